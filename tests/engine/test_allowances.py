"""Room before a tip carries, and before bend or rope passes a limit, on whole trees and backs.

Directions are common practice, no source: rock gives room to bend and to pull, none takes it away.
Closed forms are in `tests/reference/test_allowances.py`.
"""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest

from fitting.engine import FitInputs, FitResult, cases_for, evaluate_fit, from_dict, to_dict
from fitting.engine import allowances as module
from fitting.engine import stance as stance_module
from fitting.engine.allowances import LARGEST_BEND, TIP_CARRIES, with_allowances
from fitting.engine.errors import NotConverged
from fitting.engine.motion import BackChange
from fitting.engine.results import Allowance
from fitting.engine.stance import LIMITS
from tests.engine.pairs import TR_02, flat_pair, mirrored, thistle_pair, with_bars

LOADED = {rule.code: rule for rule in LIMITS}


def roping(inputs: FitInputs) -> FitInputs:
    return replace(inputs, cases=cases_for("rope"))


def allowed(inputs: FitInputs) -> FitResult:
    inputs = roping(inputs)
    return with_allowances(inputs, evaluate_fit(inputs))


@functools.cache
def rocked(more_mm: float) -> FitResult:
    """The replacement tree with more rock, or less."""
    return allowed(thistle_pair(with_bars(TR_02, rock=more_mm / 1000)))


def of(result: FitResult, code: str, *, side: str = "", case: str = "") -> Allowance:
    return next(
        a
        for a in result.allowances
        if a.code == code and a.side in (side or a.side,) and a.case in (case or a.case,)
    )


KINDS = [
    ("bend", "left", ""),
    ("bend", "right", ""),
    ("rope", "", "rope_forward"),
    ("rope", "", "rope_rear"),
]


@pytest.mark.parametrize(("code", "side", "case"), KINDS)
def test_more_rock_leaves_more_room_to_bend_and_to_pull(code, side, case):
    steps = (-8, -4, -2, 0, 2, 4)
    room = [of(rocked(mm), code, side=side, case=case).value for mm in steps]
    assert room == sorted(room)
    assert room[-1] > 1.1 * room[0]


@pytest.mark.parametrize(("code", "side", "case"), KINDS)
def test_tree_with_the_backs_own_curve_has_less_room_than_one_with_a_little_more(code, side, case):
    """Within half a millimetre of the standing curve over 17 in, against 3 mm more."""
    copy = rocked(0)
    assert abs(copy.value("rock_mismatch", side="left")) < 0.0005
    little = of(rocked(3), code, side=side, case=case).value
    assert of(copy, code, side=side, case=case).value < 0.97 * little


def test_rock_makes_a_tree_see_saw():
    assert of(rocked(8), "see_saw").value > 1.2 * of(rocked(-8), "see_saw").value > 0


def test_flat_tree_on_a_dipped_back_has_no_room_left():
    found = allowed(flat_pair())
    for code in ("tip_room_front", "tip_room_rear", "tip_turn_front", "bend", "rope"):
        assert of(found, code).value == 0.0


GIRTHED = "saddle_only"


def test_flares_give_the_tips_room():
    flared = allowed(thistle_pair(with_bars(TR_02, flare_front=0.006, flare_rear=0.006)))
    for end in ("front", "rear"):
        for side in ("left", "right"):
            plain = of(rocked(0), f"tip_room_{end}", side=side, case=GIRTHED).value
            assert of(flared, f"tip_room_{end}", side=side, case=GIRTHED).value > plain + 0.002
        turn = of(rocked(0), f"tip_turn_{end}", case=GIRTHED).value
        assert of(flared, f"tip_turn_{end}", case=GIRTHED).value > turn


def test_rider_takes_room_from_the_tips():
    for side in ("left", "right"):
        ridden = of(rocked(0), "tip_room_rear", side=side, case="standing").value
        assert of(rocked(0), "tip_room_rear", side=side, case=GIRTHED).value > ridden + 0.002


def test_tip_with_less_room_is_the_first_to_carry():
    left_flared = thistle_pair(TR_02)
    tree = left_flared.tree
    bar = replace(tree.left, flare_rear=tree.left.flare_rear + 0.004)
    found = allowed(replace(left_flared, tree=replace(tree, left=bar)))
    turn = of(found, "tip_turn_rear", case=GIRTHED)
    assert (turn.side, turn.limit, turn.reached) == ("right", TIP_CARRIES, True)
    rooms = [of(found, "tip_room_rear", side=s, case=GIRTHED).value for s in ("left", "right")]
    assert rooms[1] < rooms[0]


# -- An allowance ends where its finding begins


def past(inputs: FitInputs, case: str, code: str) -> float:
    """How far the limit of an allowance is passed in a load case, as a share of it."""
    rule, found = LOADED[code], evaluate_fit(inputs).case(case)
    values = [found.value(rule.measure, rule.zone, side) for side in ("left", "right")]
    return max(values) / rule.beyond[1] - 1


@pytest.mark.parametrize("case", ["rope_forward", "rope_rear"])
def test_limit_is_reached_at_the_pull_allowed(case):
    allowance = of(rocked(0), "rope", case=case)

    def pulled(pull: float) -> float:
        inputs = roping(thistle_pair(TR_02))
        inputs = replace(inputs, loads=replace(inputs.loads, rope_pull=pull))
        return past(inputs, case, allowance.limit)

    assert abs(pulled(allowance.value)) < 4e-3
    assert pulled(0.9 * allowance.value) < -4e-3
    assert pulled(1.1 * allowance.value) > 4e-3


@pytest.mark.parametrize("side", ["left", "right"])
def test_limit_is_reached_at_the_bend_allowed(side):
    allowance = of(rocked(0), "bend", side=side)

    def bent(bend: float) -> float:
        inputs = thistle_pair(TR_02)
        change = BackChange(bend=bend if side == "right" else -bend)
        cases = [
            replace(case, back=change) if case.name == allowance.case else case
            for case in inputs.cases
        ]
        return past(replace(inputs, cases=tuple(cases)), allowance.case, allowance.limit)

    assert abs(bent(allowance.value)) < 4e-3
    assert bent(0.9 * allowance.value) < -4e-3
    assert bent(1.1 * allowance.value) > 4e-3


def test_sweep_that_passes_no_limit_says_at_least():
    shorter = with_bars(TR_02, length=-0.05, bearing_length=-0.05, rock=0.004)
    inputs = thistle_pair(shorter)
    found = allowed(replace(inputs, loads=replace(inputs.loads, rider_mass=30.0)))
    bend = of(found, "bend", side="left")
    assert (bend.reached, bend.limit, bend.value) == (False, "", LARGEST_BEND)


def test_saddle_that_does_not_rope_gets_no_rope_allowance():
    inputs = thistle_pair(TR_02)
    codes = {a.code for a in with_allowances(inputs, evaluate_fit(inputs)).allowances}
    assert "rope" not in codes
    assert {"bend", "see_saw", "tip_room_front", "tip_turn_rear"} <= codes


def test_mirrored_pairing_has_mirrored_allowances():
    one, other = rocked(0), allowed(mirrored(thistle_pair(TR_02)))
    for code in ("bend", "tip_room_front", "tip_room_rear"):
        for side, swapped in (("left", "right"), ("right", "left")):
            assert of(one, code, side=side).value == pytest.approx(
                of(other, code, side=swapped).value, rel=2e-3, abs=1e-5
            )
    assert of(one, "bend", side="left").value != pytest.approx(
        of(other, "bend", side="left").value, rel=2e-3
    )


def test_allowances_come_back_from_storage():
    found = rocked(0)
    assert from_dict(to_dict(found)).allowances == found.allowances


# -- When a tree will not come to rest on the way


def test_one_that_will_not_rest_does_not_take_the_others_along(monkeypatch):
    settle = stance_module.settle

    def fussy(placed, cases, *args, **kwargs):
        """Refuses every problem with a rope to the rear, and so every batch that holds one."""
        if any(force.force[0] > 0 for forces in cases for force in forces):
            raise NotConverged("still moving", residual=1.0, iterations=1)
        return settle(placed, cases, *args, **kwargs)

    monkeypatch.setattr(stance_module, "settle", fussy)
    found = allowed(thistle_pair(TR_02))
    kept = {(a.code, a.side, a.case) for a in rocked(0).allowances}
    assert kept - {(a.code, a.side, a.case) for a in found.allowances} == {
        ("rope", "", "rope_rear")
    }
    assert of(found, "rope", case="rope_forward").value == pytest.approx(
        of(rocked(0), "rope", case="rope_forward").value, rel=1e-3
    )


def test_poses_from_near_by_are_the_poses_from_a_first_guess():
    inputs = thistle_pair(TR_02)
    result = evaluate_fit(inputs)
    surface = module.build_surface(inputs.back)
    placed = module.place(inputs, surface, module.underside(inputs.tree))
    near = np.array([result.case("standing").pose]) + np.array([[1e-3, 5e-3, -5e-3]])
    found = module.at_rest(inputs, placed, inputs.cases[0], near)
    assert found.pose == pytest.approx(result.case("standing").pose, abs=2e-5)
