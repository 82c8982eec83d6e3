"""Where a tree creeps to along the back, and what its findings are elsewhere."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitting.engine import (
    FitInputs,
    FitResult,
    HeightGrid,
    Layer,
    Layers,
    Loads,
    Placement,
    PointForce,
    Settings,
    UndersideGrid,
    evaluate_fit,
    from_dict,
    to_dict,
)
from fitting.engine.loads import STANDING
from fitting.engine.placing import (
    SHIFTS,
    STRAP_DROP,
    girth_push,
    levels_of,
    settled_place,
    with_placement,
)
from tests.engine.pairs import TR_02, thistle_pair

HOLLOW = 6.0  # [m] radius of the back lengthwise
WEIGHT = 800.0


def on_a_dip(
    *, lowest: float = 0.30, load_at: float = 0.20, tip: float = 0.09, radius: float = HOLLOW
) -> FitInputs:
    """A flat strip 0.4 m long on a back that dips as a parabola, pressed at one place of it."""
    x, y = np.linspace(-0.1, 0.7, 321), np.linspace(0.0125, 0.0875, 4)
    along = np.linspace(0.00125, 0.39875, 160)
    back = np.broadcast_to(((x - lowest) ** 2 / (2 * radius))[:, None], (2, 321, 4))
    return FitInputs(
        back=HeightGrid(x, y, back),
        tree=UndersideGrid(along, y, np.zeros((2, 160, 4)), np.ones((2, 160, 4), bool)),
        placement=Placement(tip),
        layers=Layers(Layer(2e5)),
        loads=Loads(
            girth_tension=0.0,
            forces=(PointForce((0.0, 0.0, -WEIGHT), (load_at, 0.0, 0.0)),),
        ),
        cases=(STANDING,),
        settings=Settings(),
    )


def swept(inputs: FitInputs, **options: object) -> FitResult:
    return with_placement(inputs, evaluate_fit(inputs), **options)


@given(lowest=st.floats(0.28, 0.32), load_at=st.floats(0.18, 0.22))
@settings(max_examples=12, deadline=None)
def test_tree_settles_with_its_load_over_the_lowest_place(lowest, load_at):
    """Statics: on a parabola every bit of load pushes by its weight times (x - lowest)/R.

    The level push is then the load times that of its centre, whatever the shape of the tree.
    """
    inputs = on_a_dip(lowest=lowest, load_at=load_at, tip=lowest - load_at - 0.011)
    found = settled_place(swept(inputs).placement_sweep)
    assert found is not None
    # Half a newton of push counts as none; here it grows by 133 N per metre, so within 4 mm.
    assert found.tip + load_at == pytest.approx(lowest, abs=0.004)
    assert found.tip + load_at != pytest.approx(lowest + 0.01, abs=0.004)


@pytest.mark.parametrize("shift", [-0.02, 0.0, 0.03])
def test_push_is_the_load_times_the_slope_under_it(shift):
    inputs = on_a_dip()
    points = {round(p.shift, 3): p for p in swept(inputs).placement_sweep if not p.settles}
    expected = -WEIGHT * (inputs.placement.tip + shift + 0.20 - 0.30) / HOLLOW
    # The tree turns with the slope, and with it where its load comes to act: parts in a hundred.
    assert points[shift].push == pytest.approx(expected, abs=0.1)
    assert points[shift].push != pytest.approx(-expected, abs=0.1)


def test_girth_draws_the_rigging_over_the_groove():
    """Two straps of T at an angle g, as pendulums: 2 T cos g (groove - rigging)/drop (statics)."""
    plain = on_a_dip()
    loads = replace(plain.loads, girth_tension=120.0, rigging=0.10)
    girthed = replace(plain, loads=loads, back=replace(plain.back, girth_groove=0.15))
    down = 2 * 120 * np.cos(np.radians(15))
    assert girth_push(girthed, 0.09) == pytest.approx(down * (0.15 - 0.19) / STRAP_DROP)
    assert girth_push(girthed, 0.05) == pytest.approx(0.0, abs=1e-9)
    assert girth_push(plain, 0.09) == 0.0
    # The straps press on the strip at the rigging, too: both parts are linear in the tip.
    tips = np.linspace(0.03, 0.12, 91)
    push = -(WEIGHT * (tips + 0.20 - 0.30) + down * (tips + 0.10 - 0.30)) / HOLLOW
    push += down * (0.15 - tips - 0.10) / STRAP_DROP
    expected = float(np.interp(0.0, -push, tips))
    found = settled_place(swept(replace(girthed, placement=Placement(0.08))).placement_sweep)
    assert found is not None
    assert found.tip == pytest.approx(expected, abs=0.003)


def test_back_that_arches_has_no_place_to_settle():
    inputs = on_a_dip(radius=-8.0)
    found = swept(inputs).placement_sweep
    assert settled_place(found) is None
    assert len(found) == len(SHIFTS)
    pushes = [point.push for point in found]
    assert pushes == sorted(pushes)  # it runs away from the top, to either side


# -- A whole tree on a measured back


@functools.cache
def thistle() -> FitResult:
    return swept(thistle_pair(TR_02))


def test_sweep_runs_from_front_to_rear_with_the_measured_place_as_it_was():
    result = thistle()
    sweep = result.placement_sweep
    assert [p.tip for p in sweep] == sorted(p.tip for p in sweep)
    assert {round(p.shift, 3) for p in sweep if not p.settles} == set(SHIFTS)
    here = next(p for p in sweep if p.shift == 0.0)
    assert here.levels == levels_of(result.findings)


def test_replacement_tree_settles_near_where_it_was_put():
    found = settled_place(thistle().placement_sweep)
    assert found is not None
    assert abs(found.shift) < 0.010


def test_dipped_back_pushes_a_tree_back_to_its_place_from_either_side():
    pushes = [point.push for point in thistle().placement_sweep]
    assert pushes == sorted(pushes, reverse=True)
    assert pushes[0] > 0 > pushes[-1]


def test_tree_moved_forward_comes_onto_the_blade():
    levels = {
        round(point.shift, 3): {code: level for code, level, _ in point.levels}
        for point in swept(thistle_pair(TR_02, tip_in=0.4)).placement_sweep
    }
    assert levels[-0.03]["behind_blade"] != "plain"
    assert levels[0.03]["behind_blade"] == "plain"


def test_findings_elsewhere_are_those_of_a_fit_there():
    point = thistle().placement_sweep[-1]
    there = replace(thistle_pair(TR_02), placement=Placement(point.tip))
    fresh = levels_of(evaluate_fit(there).findings)
    assert [level[:2] for level in point.levels] == [level[:2] for level in fresh]
    assert [level[2] for level in point.levels] == pytest.approx(
        [level[2] for level in fresh], rel=2e-3, abs=1e-4
    )


def test_place_off_the_back_has_no_findings():
    inputs = on_a_dip()
    sweep = swept(inputs, shifts=(0.0, 0.9)).placement_sweep
    assert sweep[-1].levels == ()
    assert np.isnan(sweep[-1].push)
    assert not sweep[-1].settles


def test_sweep_comes_back_from_storage():
    result = swept(on_a_dip(), shifts=(-0.01, 0.0, 0.9))
    back = from_dict(to_dict(result)).placement_sweep
    assert back[:-1] == result.placement_sweep[:-1]
    assert np.isnan(back[-1].push)
