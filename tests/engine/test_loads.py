"""Weights, straps and ropes as one resultant, against statics."""

from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import LOAD_CASES, InvalidShape, Loads, PointForce, Strap, rigging_position
from fitting.engine.loads import GRAVITY, forces_of, resultant
from fitting.engine.pose import turned
from tests.engine.pairs import INCH, TR_02

LOADS = Loads(rider_mass=80.0, saddle_mass=17.0, gear_mass=9.0)


def lever_arms(forces, pose=(0.0, 0.0, 0.0)):
    points = np.array([f.point for f in forces])
    return points @ turned(np.array([pose]))[0].T


def total(forces, moments=(0.0, 0.0)):
    return resultant(tuple(forces), moments, lever_arms(forces))[0]


def test_girth_of_two_straps():
    """Two straps of 120 N at 15 degrees add 2 T cos g = 231.8222 N; sideways parts cancel."""
    assert total([Strap(120.0, np.radians(15), 0.1).force()])[0] == pytest.approx(
        231.8222, abs=5e-5
    )
    assert total([Strap(120.0, np.radians(25), 0.1).force()])[0] != pytest.approx(231.8222, abs=5)


def test_rope_on_the_horn():
    """P 900 N at -0.02 and a rope of 500 N, down-forward 20 degrees, at (0.20, height 0.18).

    Worked example with x forward: N = P + T sin a = 1071.010 N, centre of pressure
    (x0 P + xh T sin a + zh T cos a)/N = 0.09409281 m, friction T cos a / N = 0.4386946. Here x runs
    to the rear, so x changes sign.
    """
    down, along = 500 * np.sin(np.radians(20)), 500 * np.cos(np.radians(20))
    forces = [
        PointForce((0.0, 0.0, -900.0), (0.02, 0.0, 0.0)),
        PointForce((-along, 0.0, -down), (-0.20, 0.0, 0.18)),
    ]
    load = total(forces)
    assert load[0] == pytest.approx(1071.010, abs=5e-4)
    assert -load[1] / load[0] == pytest.approx(0.09409281, abs=5e-9)
    assert along / load[0] == pytest.approx(0.4386946, abs=5e-8)
    low_horn = [forces[0], replace(forces[1], point=(-0.20, 0.0, 0.0))]
    assert -total(low_horn)[1] / total(low_horn)[0] != pytest.approx(0.094, abs=0.01)


@pytest.mark.parametrize("axis", [1, 2])
def test_stiffness_is_how_the_moments_change_as_the_tree_turns(axis):
    forces = (
        PointForce((30.0, -20.0, -800.0), (0.3, 0.02, 0.25)),
        PointForce((0.0, 10.0, -170.0), (0.27, -0.01, 0.08)),
    )
    step = 1e-6
    ahead, behind = np.zeros(3), np.zeros(3)
    ahead[axis], behind[axis] = step, -step
    change = (
        resultant(forces, (0, 0), lever_arms(forces, tuple(ahead)))[0]
        - resultant(forces, (0, 0), lever_arms(forces, tuple(behind)))[0]
    )
    stiffness = resultant(forces, (0, 0), lever_arms(forces))[1]
    assert -change[axis] / (2 * step) == pytest.approx(stiffness[axis, axis], rel=1e-6)
    assert stiffness[axis, axis] != pytest.approx(0.0, abs=10.0)


def test_high_rider_takes_stiffness_from_pitch_and_roll():
    """Minus P H, for the weight P at height H above the axis."""
    rider = PointForce((0.0, 0.0, -1000.0), (0.0, 0.0, 0.25))
    assert np.diag(resultant((rider,), (0, 0), lever_arms([rider]))[1]) == pytest.approx(
        [0, -250, -250]
    )


@pytest.mark.parametrize(
    ("fraction", "inches"), [(1, 0), (0.875, 2), (0.75, 4), (0.625, 6), (0.5, 8)]
)
def test_rigging_positions(fraction, inches):
    """Behind the fork line for 16 in from fork to cantle (common practice, no source)."""
    x = rigging_position(fraction=fraction, fork_to_cantle=16 * INCH, fork_from_tip=0.0)
    assert x == pytest.approx(inches * INCH)


def test_rigging_fraction_out_of_range_is_refused():
    with pytest.raises(InvalidShape, match="between 0 and 1"):
        rigging_position(fraction=1.5, fork_to_cantle=0.4, fork_from_tip=0.0)


def test_cases_carry_what_they_say():
    force = {case.name: total(forces_of(LOADS, TR_02, case)) for case in LOAD_CASES}
    rider = GRAVITY * 89.0
    assert force["standing"][0] - force["saddle_only"][0] == pytest.approx(rider)
    assert force["rider_left"][2] == pytest.approx(0.030 * rider)  # roll is positive left down
    assert force["rider_right"][2] == pytest.approx(-0.030 * rider)
    assert force["standing"][2] == 0.0


def test_stirrups_ahead_of_the_seat_carry_the_rider_forward():
    for share, inches in ((0.2, 11.5 - 0.2 * 3.5), (0.0, 11.5)):
        rider = Loads(rider_mass=80.0, girth_tension=0.0, stirrup_share=share)
        down, pitch, _ = total(forces_of(rider, TR_02, LOAD_CASES[0]))
        assert pitch / down == pytest.approx(inches * INCH)
