"""From stored evaluations to the measures followed over time."""

from collections.abc import Mapping

from fitting.charts.history import FitPoint
from fitting.models import FitEvaluation

RIDDEN, UNRIDDEN = "standing", "saddle_only"
SIDES = {"L": "left", "R": "right"}
ZONES = ("cranial", "middle", "caudal")
MM, KPA = 1000.0, 1e-3


def fit_point(evaluation: FitEvaluation) -> FitPoint:
    """Return the followed measures of a computed evaluation (pairing, saddle and pad joined)."""
    measures = evaluation.measures
    return FitPoint(
        day=evaluation.evaluated_on,
        saddle=evaluation.pairing.saddle.tag,
        pairing=pairing_words(evaluation),
        bearing_mm=_by_side(measures, f"{RIDDEN}.bearing_length", MM),
        gap_mm=_by_side(measures, f"{UNRIDDEN}.largest_gap", MM),
        share=_by_zone(measures, f"{RIDDEN}.share", 1.0),
        peak_kpa=_by_zone(measures, f"{RIDDEN}.peak_pressure", KPA),
    )


def pairing_words(evaluation: FitEvaluation) -> str:
    pairing = evaluation.pairing
    pad = f" + {pairing.pad.name}" if pairing.pad else ""
    return f"{pairing.saddle.tag}{pad}"


def _by_side(measures: Mapping[str, float], code: str, factor: float) -> dict[str, float]:
    keys = {side: f"{code}.{word}" for side, word in SIDES.items()}
    return {side: measures[key] * factor for side, key in keys.items() if key in measures}


def _by_zone(measures: Mapping[str, float], code: str, factor: float) -> dict[str, float]:
    keys = {zone: f"{code}.{zone}" for zone in ZONES}
    return {zone: measures[key] * factor for zone, key in keys.items() if key in measures}
