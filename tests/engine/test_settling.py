"""Trees over the whole plausible range come to rest, in balance, on backs of any shape."""

from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import FitInputs, NotConverged, Placement, evaluate_fit
from fitting.engine import pose as pose_module
from tests.engine.pairs import back, thistle_pair, two_bar

DRAWS = 24


def drawn(number: int) -> FitInputs:
    """A pairing from anywhere in the usual ranges of backs and trees, left and right unlike."""
    rng = np.random.default_rng(number)

    def between(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    front = between(5.0, 8.6)
    widths = [front, front + between(1, 2.5), front + between(1.5, 4.5)]
    ratios = [between(2.2, 2.7), between(2.1, 2.5), between(2.0, 2.4)]
    left = tuple((w, w * r) for w, r in zip(widths, ratios, strict=True))
    uneven = 1 + between(-0.05, 0.05)
    right = tuple((w * uneven, w * r * uneven) for w, r in zip(widths, ratios, strict=True))
    rock = between(-5, 30)
    length = between(20, 24.5)
    tree = two_bar(
        length_in=length,
        bearing_in=between(15, 19),
        widths_in=(between(5, 6.5), between(3, 3.5), between(5, 6.5)),
        spread_in=between(3, 5.5),
        front_deg=(between(38, 54), between(38, 54)),
        rear_deg=between(20, 36),
        rock_mm=between(-3, 24),
        flare_mm=(between(0, 25), between(0, 25)),
        crown_mm=between(0, 10),
        slot_in=between(6, 10),
        ahead_in=between(0, 6),
        gullet_in=6.0,
    )
    inputs = thistle_pair(tree, pad_mm=between(6, 25))
    shape = back(
        left=left,
        right=right,
        rock_mm=(rock, rock + between(-4, 4)),
        support_in=between(17, 21.5),
    )
    return replace(inputs, back=shape, placement=Placement(tip=between(0.0, 0.08)))


@pytest.mark.parametrize("number", range(DRAWS))
def test_plausible_pairing_comes_to_rest_in_balance(number):
    inputs = drawn(number)
    result = evaluate_fit(inputs)
    weight = inputs.loads.carried_mass * 9.80665 + 200 * np.cos(np.radians(15))
    rider = 200 * 0.45359237 * 9.80665
    factor = {case.name: case.factor if case.has_rider else 0.0 for case in inputs.cases}
    for case in result.cases:
        expected = weight + (factor[case.name] - 1) * rider
        assert case.value("load") == pytest.approx(expected, rel=1e-6)
        assert case.residual < 1e-9
        assert case.pressure.min() >= 0.0
        assert abs(case.value("centre_of_pressure_x") - case.value("resultant_x")) < 0.02


def test_pressures_follow_the_heave_of_the_pose():
    """The twin: pressed 2 mm deeper than where it rests, a tree is not in balance any more."""
    inputs = drawn(0)
    rest = evaluate_fit(inputs).cases[0]
    law = inputs.layers.law()
    touching = rest.gap < 0
    deeper = law.pressure(-rest.gap[touching] + 0.002)
    assert deeper.mean() > 1.1 * rest.pressure[touching].mean()


def test_tree_that_may_not_move_long_enough_is_not_passed_off_as_settled(monkeypatch):
    monkeypatch.setattr(pose_module, "PASSES", 1)
    with pytest.raises(NotConverged, match="not come to rest"):
        evaluate_fit(drawn(0))
