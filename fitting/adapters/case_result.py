"""What comes out of a case file, as JSON values with their units in their names."""

import math
from typing import Any

from fitting.adapters.casefile import CaseFileError, case_inputs, file_field, load_case_file
from fitting.adapters.model_limits import LIMITS
from fitting.engine import (
    Allowance,
    CaseResult,
    EngineError,
    Finding,
    FitResult,
    InvalidShape,
    LoadOutsideSupport,
    Measure,
    PlacementPoint,
    StabilityLost,
    Suggestion,
    study_fit,
)

Json = dict[str, Any]


class NoBalance(Exception):
    """The load of the case lies outside the support, or the tree falls over under it."""


class NoAnswer(Exception):
    """The engine did not come to an answer."""


def evaluate_case_file(text: str, *, with_pressure: bool = False) -> Json:
    """Return the result of a case file's evaluation.

    Raises CaseFileError with the path of a bad field, NoBalance for a load the tree cannot carry,
    NoAnswer when the iteration ends early.
    """
    data = load_case_file(text)
    try:
        result = study_fit(case_inputs(data))
    except InvalidShape as error:
        message = str(error).removeprefix(f"{error.path}: ")
        raise CaseFileError(file_field(error, data), message) from error
    except (LoadOutsideSupport, StabilityLost) as error:
        raise NoBalance(str(error)) from error
    except EngineError as error:
        raise NoAnswer(str(error)) from error
    return {"title": data.get("title", ""), **result_json(result, with_pressure=with_pressure)}


def result_json(result: FitResult, *, with_pressure: bool) -> Json:
    """Return a result as JSON values."""
    out: Json = {
        "format": "backledger.result/1",
        "engine_version": result.engine_version,
        "cases": [_case(case, with_pressure=with_pressure) for case in result.cases],
        "measures": [_plain(m) for m in result.measures],
        "findings": [_plain(finding) for finding in result.findings],
        "allowances": [_plain(allowance) for allowance in result.allowances],
        "placement": [_place(point) for point in result.placement_sweep],
        "suggestion": None if result.suggestion is None else _plain(result.suggestion),
        "warnings": list(result.warnings),
        "limits": [limit.title for limit in LIMITS],
        "passes": result.passes,
    }
    if with_pressure:
        out["grid"] = {"x_m": result.x.tolist(), "y_m": result.y.tolist()}
    return out


def _case(case: CaseResult, *, with_pressure: bool) -> Json:
    heave, pitch, roll = case.pose
    out: Json = {
        "name": case.name,
        "title": case.title,
        "pose": {"heave_m": heave, "pitch_rad": pitch, "roll_rad": roll},
        "measures": [_plain(m) for m in case.measures],
        "convergence": {"residual": case.residual, "iterations": case.iterations},
    }
    if with_pressure:
        out["pressure_pa"] = {
            side: case.pressure[i].round(3).tolist() for i, side in enumerate(("left", "right"))
        }
    return out


def _place(point: PlacementPoint) -> Json:
    levels = [
        {"code": code, "level": level, "value": _number(value)}
        for code, level, value in point.levels
    ]
    out = {"tip_m": point.tip, "shift_m": point.shift, "push_n": _number(point.push)}
    return {**out, "settles": point.settles, "findings": levels}


def _plain(answer: Measure | Finding | Allowance | Suggestion) -> Json:
    """One answer of the engine by its fields; JSON has no infinity and no nan."""
    fields = vars(answer).items()
    return {key: _number(part) if isinstance(part, float) else part for key, part in fields}


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
