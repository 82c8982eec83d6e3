"""A case file (JSON, `fitting/casefile/schema.json`) becomes engine inputs, and a result JSON."""

import json
import math
from functools import cache
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
from jsonschema import Draft202012Validator, ValidationError
from jsonschema.exceptions import best_match

from fitting.engine import (
    LOAD_CASES,
    BackChange,
    BackShape,
    Bar,
    FitInputs,
    FlexibleBar,
    FlexibleTree,
    FramelessTree,
    Grid,
    HalfProfile,
    HeightGrid,
    InvalidShape,
    Layer,
    Layers,
    LineProfile,
    LoadCase,
    Loads,
    Panel,
    PanelTree,
    Placement,
    PointForce,
    Rope,
    Settings,
    Shims,
    Station,
    Strap,
    TwoBarTree,
    UndersideGrid,
    cases_for,
)

HOME = Path(__file__).resolve().parent.parent / "casefile"
FACTORS = {"m": 1.0, "deg": math.pi / 180, "n": 1.0, "kg": 1.0, "nm": 1.0, "nm2": 1.0}
BUILT_IN = {case.name: case for case in LOAD_CASES}
Json = dict[str, Any]
Tree = TwoBarTree | PanelTree | FramelessTree | UndersideGrid


class CaseFileError(Exception):
    """A case file that cannot be used; `path` is the field, dotted."""

    def __init__(self, path: str, message: str) -> None:
        super().__init__(f"{path}: {message}" if path else message)
        self.path = path


@cache
def validator() -> Draft202012Validator:
    """Return the validator of case files, version 1."""
    return Draft202012Validator(json.loads((HOME / "schema.json").read_text(encoding="utf-8")))


def load_case_file(text: str) -> Json:
    """Return the JSON of a case file that meets the schema."""
    try:
        data = json.loads(text, parse_constant=_refuse_constant)
    except json.JSONDecodeError as error:
        message = f"not JSON: {error.msg} in line {error.lineno}, column {error.colno}"
        raise CaseFileError("", message) from error
    fault = best_match(validator().iter_errors(data))
    if fault is not None:
        raise CaseFileError(_field(fault), _message(fault))
    return dict(data)


def _refuse_constant(name: str) -> NoReturn:
    raise CaseFileError("", f"{name} is not a number a case file may hold")


def _field(error: ValidationError) -> str:
    """Return the path of the bad field: the missing or unknown one itself, not its parent."""
    path = [str(part) for part in error.absolute_path]
    wanted: Any = error.validator_value
    given: Any = error.instance
    if error.validator == "required":
        path.append(next(name for name in wanted if name not in given))
    if error.validator == "additionalProperties":
        path.append(next(name for name in given if name not in _allowed(error)))
    return ".".join(path)


def _allowed(error: ValidationError) -> Json:
    schema = error.schema
    return dict(schema.get("properties", {})) if isinstance(schema, dict) else {}


def _message(error: ValidationError) -> str:
    if error.validator == "required":
        return "is missing"
    if error.validator == "additionalProperties":
        return f"is not a field here; there are {', '.join(sorted(_allowed(error)))}"
    if error.validator == "exclusiveMinimum":
        return f"must be above {error.validator_value}, got {error.instance}"
    return str(error.message)


def case_inputs(data: Json) -> FitInputs:
    """Return engine inputs of a case file that met the schema.

    Raises CaseFileError where lists do not match in length or a grid is ragged.
    """
    works = ("rope",) if "rope" in data["load"] else ()
    named = data.get("load_cases", [case.name for case in cases_for(*works)])
    return FitInputs(
        back=_back(data["back"]),
        tree=_tree(data["tree"]),
        placement=Placement(tip=data["placement"]["tip_m"]),
        layers=_layers(data["layers"]),
        loads=_loads(data["load"]),
        horse_mass=data.get("horse_kg"),
        cases=tuple(_load_case(case) for case in named),
        settings=_settings(data.get("settings", {})),
    )


def file_field(error: InvalidShape, data: Json) -> str:
    """Return the field of the file that the engine's path means, with its unit."""
    path = error.path.replace("tree.bars", f"tree.{_sides_name(data)}")
    parent, _, name = path.rpartition(".")
    found: Any = data
    for part in parent.split(".") if parent else []:
        if isinstance(found, list):
            found = found[int(part)] if part.isdigit() and int(part) < len(found) else {}
        else:
            found = found.get(part, {}) if isinstance(found, dict) else {}
    keys = found if isinstance(found, dict) else {}
    named = next((key for key in keys if key == name or key.rpartition("_")[0] == name), name)
    return f"{parent}.{named}" if parent else named


def _sides_name(data: Json) -> str:
    return "panels" if data["tree"]["kind"] == "panels" else "bars"


def _si(data: Json, *, skip: tuple[str, ...] = ()) -> Json:
    """Return numbers by their name without unit, in SI; anything else as it is."""
    out = {}
    for key, value in data.items():
        name, _, unit = key.rpartition("_")
        if key not in skip and unit in FACTORS and isinstance(value, int | float):
            out[name] = value * FACTORS[unit]
        elif key not in skip:
            out[key] = value
    return out


def _back(data: Json) -> BackShape | HeightGrid:
    if data["kind"] == "height_grid":
        return HeightGrid(
            x=np.array(data["x_m"], float),
            y=np.array(data["y_m"], float),
            heights=_both(data, "back", "m", float),
            last_rib=data.get("last_rib_m"),
            girth_groove=data.get("girth_groove_m"),
        )
    lines: Json = {
        name: LineProfile(tuple(data[name]["distances_m"]), tuple(data[name]["heights_m"]))
        for name in ("left_line", "right_line", "midline")
        if name in data
    }
    stations = tuple(
        Station(s["name"], s["distance_m"], _half(s["left"]), _half(s["right"]))
        for s in data["stations"]
    )
    rest = _si(data, skip=("kind", "stations", "left_line", "right_line", "midline"))
    return BackShape(stations, **lines, **rest)


def _half(data: Json) -> HalfProfile:
    return HalfProfile(tuple(data["half_widths_m"]), tuple(data["depths_m"]))


def _both(data: Json, owner: str, what: str, kind: type) -> Any:
    """Return left and right grids as one array, or name the one that does not fit its axes."""
    shape = (len(data["x_m"]), len(data["y_m"]))
    for side in ("left", "right"):
        rows = data[f"{side}_{what}"]
        if len(rows) != shape[0] or any(len(row) != shape[1] for row in rows):
            raise CaseFileError(
                f"{owner}.{side}_{what}", f"must have {shape[0]} rows of {shape[1]} values"
            )
    return np.array([data[f"left_{what}"], data[f"right_{what}"]], kind)


def _tree(data: Json) -> Tree:
    if data["kind"] == "underside_grid":
        return UndersideGrid(
            x=np.array(data["x_m"], float),
            y=np.array(data["y_m"], float),
            heights=_both(data, "tree", "m", float),
            mask=_both(data, "tree", "mask", bool),
            seat_low=data.get("seat_low_m", 0.0),
            stirrup=data.get("stirrup_m", 0.0),
        )
    rest = _si(data, skip=("kind", "bars", "panels"))
    if data["kind"] == "panels":
        panels: Json = {side: Panel(**_si(data["panels"][side])) for side in ("left", "right")}
        return PanelTree(**panels, **rest)
    if data["kind"] == "frameless":
        return FramelessTree(**rest)
    bends = data["kind"] == "flexible"
    bar = FlexibleBar if bends else Bar
    bars: Json = {side: bar(**_si(data["bars"][side])) for side in ("left", "right")}
    return (FlexibleTree if bends else TwoBarTree)(**bars, **rest)


def _layer(data: Json | None) -> Layer | None:
    if data is None:
        return None
    if data["law"] == "linear":
        return Layer(data["modulus_pa_per_m"])
    scale = data["pressure_scale_pa"]
    return Layer(scale / data["compression_scale_m"], scale)


def _layers(data: Json) -> Layers:
    tissue = _layer(data["tissue"])
    assert tissue is not None
    return Layers(
        tissue=tissue,
        pad=_layer(data.get("pad")),
        pad_thickness=data.get("pad_thickness_m", 0.0),
        flock=_layer(data.get("flock")),
        shims=Shims(**_si(data.get("shims", {}))),
    )


def _loads(data: Json) -> Loads:
    girth = data.get("girth")
    moments = data.get("moments_nm", {})
    return Loads(
        rider_mass=data.get("rider_kg", 0.0),
        saddle_mass=data.get("saddle_kg", 0.0),
        gear_mass=data.get("gear_kg", 0.0),
        girth_tension=0.0,
        **_si({k: data[k] for k in ("rider_height_m", "stirrup_share") if k in data}),
        **_rope(data.get("rope", {})),
        forces=_forces(data),
        straps=tuple(
            Strap(**_si(strap)) for strap in [*data.get("straps", []), *([girth] if girth else [])]
        ),
        moments=(moments.get("pitch", 0.0), moments.get("roll", 0.0)),
    )


def _forces(data: Json) -> tuple[PointForce, ...]:
    return tuple(
        PointForce(tuple(force["force_n"]), tuple(force["point_m"]))
        for force in data.get("forces", [])
    )


def _rope(data: Json) -> Json:
    names = {"pull": "rope_pull", "horn_x": "horn", "horn_height": "horn_height"}
    return {names[name]: value for name, value in _si(data).items()}


def _load_case(case: str | Json) -> LoadCase:
    if isinstance(case, str):
        return BUILT_IN[case]
    given: Json = {"title": case["name"], **_si(case, skip=("rope", "forces", "back", "feeds"))}
    if "rope" in case:
        given["rope"] = Rope(**_si(case["rope"]))
    if "feeds" in case:
        given["feeds"] = tuple(case["feeds"])
    return LoadCase(**given, forces=_forces(case), back=BackChange(**_si(case.get("back", {}))))


def _settings(data: Json) -> Settings:
    axis = data.get("axis_m")
    return Settings(
        grid=Grid(**_si(data.get("grid", {}))),
        is_linear=data.get("rotation") == "small",
        axis=(axis[0], axis[1]) if axis else None,
        **{key: data[key] for key in ("tolerance",) if key in data},
    )
