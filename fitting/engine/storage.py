"""Inputs and results as plain JSON values and back, so that an evaluation can be kept frozen.

Every dataclass becomes an object with its class under "type"; arrays and tuples become lists; nan
becomes null. Pressures are kept to 1 Pa and lengths to 0.01 mm, which no measurement reaches.

There are many load cases, so what each repeats is kept short. A field over the back becomes
{"packed": unit, "fill": value, "shape": [2, n, m], "rows": [...]}: of every row, the number of
filled cells before the first other one, then whole multiples of the unit up to the last. Measures
become {"measures": [[code, value, unit, zone, side], ...]}. Both are read in their long form, too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from .bands import Band, Narrowing, Sensitivity, Sweep, SweepFinding, SweepPoint
from .errors import InvalidShape
from .findings import Finding
from .geometry import BackShape, Grid, HeightGrid
from .inputs import FitInputs, Placement, Settings
from .layers import Layer, Layers, Shims
from .loads import LOAD_CASES, LoadCase, Loads, PointForce, Rope, Strap
from .measures import Measure
from .measuring import Errors
from .motion import BackChange
from .profiles import HalfProfile, LineProfile, Station
from .results import (
    Allowance,
    CaseResult,
    FitResult,
    PlacementPoint,
    Suggestion,
)
from .sections import Section
from .trees import (
    Bar,
    FlexibleBar,
    FlexibleTree,
    FramelessTree,
    Panel,
    PanelTree,
    TwoBarTree,
    UndersideGrid,
)

_STORED = (
    *(FitInputs, Placement, Settings, Grid, BackShape, HeightGrid, HalfProfile, Station),
    *(LineProfile, TwoBarTree, Bar, PanelTree, Panel, UndersideGrid, Layers, Layer, Shims),
    *(FlexibleTree, FlexibleBar, FramelessTree),
    *(Loads, LoadCase, PointForce, Strap, Rope, BackChange),
    *(FitResult, CaseResult, Section, Measure, Finding),
    *(Errors, Sensitivity, Sweep, SweepPoint, SweepFinding),
    *(Allowance, PlacementPoint, Band, Narrowing, Suggestion),
)
CLASSES: dict[str, type] = {stored.__name__: stored for stored in _STORED}
DECIMALS = {
    ("CaseResult", "row_gap"): 5,
    ("FitResult", "z"): 5,
    ("Section", "back_z"): 5,
    ("Section", "tree_y"): 5,
    ("Section", "tree_z"): 5,
}
# What reads the load cases that were kept before they said so themselves.
FEEDS = {case.name: case.feeds for case in LOAD_CASES}
# Unit and fill of fields that cover the back and are mostly empty.
PACKED = {
    ("CaseResult", "pressure"): (1.0, 0.0),
    ("CaseResult", "gap"): (1e-5, float("nan")),
}


def to_dict(value: Any) -> Any:
    """Return a dataclass of the engine as JSON values.

    Raises
    ------
    InvalidShape
        If it holds something the engine does not store.
    """
    if is_dataclass(value):
        name = type(value).__name__
        out = {"type": name}
        for field in fields(value):
            part = getattr(value, field.name)
            out[field.name] = _part(part, (name, field.name))
        return out
    if isinstance(value, tuple) and value and all(isinstance(part, Measure) for part in value):
        rows = [[getattr(m, field.name) for field in fields(Measure)] for m in value]
        return {"measures": to_dict(rows)}
    if isinstance(value, tuple | list):
        return [to_dict(part) for part in value]
    if isinstance(value, float):
        return value if np.isfinite(value) else None
    if value is None or isinstance(value, str | bool | int):
        return value
    raise InvalidShape(f"cannot store a {type(value).__name__}", path="storage")


def _part(part: Any, where: tuple[str, str]) -> Any:
    if not isinstance(part, np.ndarray):
        return to_dict(part)
    if where in PACKED:
        return _packed(part, *PACKED[where])
    return _list(part, DECIMALS.get(where))


def _packed(array: np.ndarray[Any, Any], unit: float, fill: float) -> dict[str, Any]:
    whole = np.round(array / unit).reshape(-1, array.shape[-1])
    rows = [_packed_row(row, fill) for row in whole]
    return {"packed": unit, "fill": to_dict(fill), "shape": list(array.shape), "rows": rows}


def _packed_row(whole: np.ndarray[Any, Any], fill: float) -> list[int | None]:
    kept = np.flatnonzero(np.isfinite(whole) if np.isnan(fill) else whole != fill)
    if not len(kept):
        return []
    part = whole[kept[0] : kept[-1] + 1].tolist()
    return [int(kept[0]), *(int(v) if np.isfinite(v) else None for v in part)]


def _unpacked(data: Mapping[str, Any]) -> np.ndarray[Any, Any]:
    *outer, width = data["shape"]
    fill = float("nan") if data["fill"] is None else data["fill"]
    out = np.full((int(np.prod(outer)), width), fill)
    for row, (first, *values) in ((i, r) for i, r in enumerate(data["rows"]) if r):
        out[row, first : first + len(values)] = np.asarray(values, float) * data["packed"]
    return out.reshape(data["shape"])


def _list(array: np.ndarray[Any, Any], digits: int | None) -> Any:
    if array.dtype == bool:
        return array.astype(int).tolist()
    if digits is not None:
        array = np.round(array, digits)
    if np.isfinite(array).all():
        return array.tolist()
    out = array.astype(object)
    out[~np.isfinite(array)] = None
    return out.tolist()


def from_dict(data: Any) -> Any:
    """Return the dataclass that `to_dict` wrote.

    Raises
    ------
    InvalidShape
        If the data names a class that is not the engine's, or lacks or adds a field.
    """
    if isinstance(data, Mapping):
        return _measures(data) if "measures" in data and "type" not in data else _built(data)
    if isinstance(data, list):
        return tuple(from_dict(part) for part in data)
    return data


def _measures(data: Mapping[str, Any]) -> tuple[Measure, ...]:
    kinds = [str(field.type) for field in fields(Measure)]
    return tuple(
        Measure(*(_restored(kind, part) for kind, part in zip(kinds, row, strict=True)))
        for row in data["measures"]
    )


def _built(data: Mapping[str, Any]) -> Any:
    name = data.get("type")
    if not isinstance(name, str) or name not in CLASSES:
        raise InvalidShape(f"unknown type {name!r}", path="storage.type")
    cls = CLASSES[name]
    known = {field.name: str(field.type) for field in fields(cls)}
    given = {key: part for key, part in data.items() if key != "type"}
    if cls is LoadCase and given.get("name") in FEEDS:
        given = {"feeds": FEEDS[given["name"]]} | given
    if unknown := sorted(set(given) - set(known)):
        raise InvalidShape(f"{name} has no field {', '.join(unknown)}", path="storage")
    try:
        return cls(**{key: _restored(known[key], part) for key, part in given.items()})
    except TypeError as error:
        raise InvalidShape(f"{name}: {error}", path="storage") from error


def _restored(annotation: str, part: Any) -> Any:
    if annotation.startswith("NDArray[np.bool_]"):
        return np.asarray(part, bool)
    if annotation.startswith("Array") and isinstance(part, Mapping):
        return _unpacked(part)
    if annotation.startswith("Array"):
        return np.asarray(part, float)  # null becomes nan
    if annotation == "float" and part is None:
        return float("nan")
    return from_dict(part)
