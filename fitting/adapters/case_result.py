"""What comes out of a case file, as JSON values with their units in their names."""

import math
from typing import Any

from fitting.adapters.casefile import CaseFileError, case_inputs, file_field, load_case_file
from fitting.engine import (
    CaseResult,
    EngineError,
    FitResult,
    InvalidShape,
    LoadOutsideSupport,
    Measure,
    StabilityLost,
    evaluate_fit,
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
        result = evaluate_fit(case_inputs(data))
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
        "measures": [_measure(m) for m in result.measures],
        "findings": [
            {**vars(finding), "value": _number(finding.value), "limit": _number(finding.limit)}
            for finding in result.findings
        ],
        "warnings": list(result.warnings),
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
        "measures": [_measure(m) for m in case.measures],
        "convergence": {"residual": case.residual, "iterations": case.iterations},
    }
    if with_pressure:
        out["pressure_pa"] = {
            side: case.pressure[i].round(3).tolist() for i, side in enumerate(("left", "right"))
        }
    return out


def _measure(measure: Measure) -> Json:
    return {**vars(measure), "value": _number(measure.value)}


def _number(value: float) -> float | None:
    """JSON has no infinity and no nan."""
    return value if math.isfinite(value) else None
