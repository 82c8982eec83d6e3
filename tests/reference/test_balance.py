"""The whole tree on a back: its load and the back's answer balance, and the rider leans with it.

Sources: statics. That a bar of relative radius R resists tipping under a load P with PR, whatever
the layer, is derived in `fitting.engine.reference`; a weight at height H takes P H of it.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from fitting.engine import (
    Bar,
    FitInputs,
    HeightGrid,
    Layer,
    Layers,
    Loads,
    Placement,
    StabilityLost,
    TwoBarTree,
    evaluate_fit,
)
from fitting.engine.evaluate import solve_cases
from fitting.engine.inputs import Solved
from fitting.engine.loads import STANDING, forces_of
from tests.engine.pairs import TR_02, fern_pair, flat_pair, panel_tree, thistle_pair, wider

from .cases import all_differ, compare, small

GRAVITY = 9.80665  # [m/s2] CGPM 1901
PAIRS = {
    "good": lambda: thistle_pair(TR_02),
    "flat": flat_pair,
    "narrow": lambda: thistle_pair(wider(TR_02, degrees=-10, spread=-0.02)),
    "wide": lambda: thistle_pair(wider(TR_02, degrees=10, spread=0.02)),
    "panelled": lambda: fern_pair(panel_tree(head_deg=80)),
}
LEVER = 2e-3  # [m] in the last pass cells at an edge may still change places


@functools.cache
def solved(name: str) -> tuple[FitInputs, tuple[Solved, ...]]:
    inputs = PAIRS[name]()
    return inputs, solve_cases(inputs)


def moments(inputs: FitInputs, one: Solved, *, height: float = 1.0) -> tuple[float, float, float]:
    """Force down, and levers of what is left of both moments about the axis: load and answer.

    The load's points turn with the tree by scipy's rotations; `height` scales how far above the
    bars they are taken to act.
    """
    heave, pitch, roll = one.pose
    axis = one.placed.axis - np.array([0.0, 0.0, heave])
    patch, settled, k = one.placed.patch, one.settled, one.index
    push = (settled.pressure[k] * settled.cover[k] * patch.area)[:, None] * patch.normals
    answer = np.cross(patch.points - axis, push).sum(axis=0)
    turn = Rotation.from_euler("yx", [pitch, roll])  # about fixed axes: pitch, then roll
    down, load = 0.0, np.zeros(3)
    for acting in forces_of(inputs.loads, inputs.tree, one.case):
        point = np.array(acting.point, float) * np.array([1.0, 1.0, height])
        arm = turn.apply(point + np.array([one.placed.tip, 0.0, 0.0]) - one.placed.axis)
        load += np.cross(arm, acting.force)
        down -= acting.force[2]
    left = (answer + load) / down
    return float(push[:, 2].sum() - down) / down, float(left[1]), float(left[0])


@pytest.mark.parametrize("name", PAIRS)
def test_c25_load_and_answer_balance_in_every_case(name):
    inputs, cases = solved(name)
    assert len(cases) >= 4
    for one in cases:
        force, fore_and_aft, sideways = moments(inputs, one)
        small("force left over, of the load", abs(force), 1e-6)
        small("lever left over, fore and aft [m]", abs(fore_and_aft), LEVER)
        small("lever left over, sideways [m]", abs(sideways), LEVER)


def test_c25_forgetting_that_the_rider_sits_high_is_noticed():
    inputs, cases = solved("flat")
    standing = next(one for one in cases if one.case == STANDING)
    assert not abs(moments(inputs, standing, height=0.0)[1]) < LEVER


def test_c25_force_down_is_the_weights_and_the_girth():
    """180, 38 and 20 lb at 9.80665 m/s2 and two straps of 100 N, 15 degrees from the vertical."""
    _, cases = solved("good")
    standing = next(one for one in cases if one.case == STANDING)
    push = standing.settled.pressure[standing.index] * standing.settled.cover[standing.index]
    patch = standing.placed.patch
    found = {"force": float((push * patch.area) @ patch.normals[:, 2])}
    weight = 238 * 0.45359237 * GRAVITY + 200 * np.cos(np.radians(15))
    compare(found, {"force": weight}, tolerance=1e-6)
    assert all_differ(found, {"force": weight - 200 * np.cos(np.radians(15))}, tolerance=1e-6)


# -- A rider on a tree that leans


def flat_back(slope: float = 0.0) -> HeightGrid:
    """A plane that falls to the rear by a slope [rad]."""
    x, y = np.linspace(0.0, 0.7, 561), np.linspace(0.005, 0.195, 10)
    plane = np.broadcast_to((-np.tan(slope) * (x - 0.35))[:, None], (561, 10))
    return HeightGrid(x, y, np.array([plane, plane]))


def curved_tree(radius: float) -> TwoBarTree:
    """Two level bars of 0.53 x 0.10 m, curved lengthwise with a radius; inf is straight."""
    bar = Bar(
        length=0.53,
        bearing_length=0.53,
        width_front=0.10,
        width_centre=0.10,
        width_rear=0.10,
        slope_front=0.0,
        slope_rear=0.0,
        rock=0.4318**2 / (8 * radius),
    )
    return TwoBarTree(bar, bar, spread_hand_hole=0.08, seat_low=0.265, stirrup=0.165)


def leaning(*, radius: float, height: float, slope: float = 0.0, load: float = 300.0):
    """Standing under a rider alone, on a linear layer."""
    inputs = FitInputs(
        back=flat_back(slope),
        tree=curved_tree(radius),
        placement=Placement(tip=0.085),
        layers=Layers(Layer(1.2e6)),
        loads=Loads(
            rider_mass=load / GRAVITY, girth_tension=0.0, rider_height=height, stirrup_share=0.0
        ),
        cases=(STANDING,),
    )
    return evaluate_fit(inputs).cases[0]


@pytest.mark.parametrize("height", [0.2, 0.25, 0.3])
@pytest.mark.parametrize("radius", [0.8, 1.5])
def test_c26_stability_left_is_what_the_height_leaves_of_the_radius(radius, height):
    """1 - H/R: the bar resists with P R, the rider takes P H."""
    found = {"margin": leaning(radius=radius, height=height).value("stability_margin")}
    compare(found, {"margin": 1 - height / radius}, tolerance=0.02)
    assert all_differ(found, {"margin": 1.0}, tolerance=0.02)
    assert all_differ(found, {"margin": 1 - 0.8 * height / radius}, tolerance=0.02)


@pytest.mark.parametrize("load", [150.0, 450.0])
def test_c26_it_does_not_depend_on_the_load(load):
    margin = leaning(radius=0.8, height=0.25, load=load).value("stability_margin")
    compare({"margin": margin}, {"margin": 1 - 0.25 / 0.8}, tolerance=0.02)


def test_c26_a_rider_higher_than_the_radius_is_refused():
    with pytest.raises(StabilityLost):
        leaning(radius=0.25, height=0.30, load=60.0)
    assert leaning(radius=0.25, height=0.20, load=60.0).value("stability_margin") > 0


@pytest.mark.parametrize("degrees", [-4.0, 3.0])
def test_c26_weight_follows_the_seat_down_a_slope(degrees):
    """Two straight bars on a plane falling by a: pitch = a / (1 - PH/K), lever H sin(pitch).

    K = 2 k W L3/12 is what both bars resist with, in contact all along.
    """
    slope, height, load = np.radians(degrees), 0.25, 900.0
    case = leaning(radius=np.inf, height=height, slope=slope, load=load)
    resisting = 2 * 1.2e6 * 0.10 * 0.53**3 / 12
    pitch = slope / (1 - load * height / resisting)
    lever = case.value("resultant_x") - case.value("axis_x")
    found = {"pitch": case.value("pitch"), "lever": lever}
    expected = {"pitch": pitch, "lever": height * np.sin(pitch)}
    compare(found, expected, tolerance=1e-2)
    assert all_differ({"pitch": slope, "lever": 0.0}, expected, tolerance=1e-2)
