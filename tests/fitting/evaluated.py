"""Pairings with a computed fit, for tests of what is shown about them."""

from typing import Any

from fitting.models import FitEvaluation, Saddle
from fitting.services.evaluations import evaluate_now, start_evaluation
from horses.models import BackMeasurement
from tests.factories import make_measurement, make_pairing, make_saddle, make_tree

INCH = 25.4
# The demo's flat tree: nearly no rock on a back that dips 18 mm, and longer than the back.
FLAT_TREE = {
    "bar_length_mm": 23.5 * INCH,
    "bearing_length_mm": 20.5 * INCH,
    "bar_width_front_mm": 5.25 * INCH,
    "bar_width_centre_mm": 3.0 * INCH,
    "bar_width_rear_mm": 5.25 * INCH,
    "spread_hand_hole_mm": 3.75 * INCH,
    "slope_front_left_deg": 49.0,
    "slope_front_right_deg": 49.0,
    "slope_rear_left_deg": 34.0,
    "slope_rear_right_deg": 34.0,
    "rock_mm": 3.0,
    "flare_front_mm": 4.0,
    "flare_rear_mm": 3.0,
    "crown_mm": 3.0,
}


def flat_saddle(**values: Any) -> Saddle:
    standard = {"stirrup_behind_tip_mm": 9 * INCH, "stirrup_ahead_of_seat_mm": 5.5 * INCH}
    return make_saddle(**{**standard, "tree": make_tree(**FLAT_TREE), **values})


def evaluated(
    measurement: BackMeasurement | None = None, saddle: Saddle | None = None, **pairing: Any
) -> FitEvaluation:
    """Return the computed fit of a saddle (the good one by default) on a measured back."""
    measurement = measurement or make_measurement()
    if saddle is not None:
        pairing["saddle"] = saddle
    started = start_evaluation(
        pairing=make_pairing(measurement.horse, **pairing), measurement=measurement
    )
    return evaluate_now(evaluation=started)
