"""The room a fit leaves, and the fit at other places, in the words and units of a fitter."""

from __future__ import annotations

import math

import pytest

from fitting.adapters.allowance_words import allowance_rows, placement_rows, settled_words
from fitting.engine import Allowance, PlacementPoint
from horses.charts.theme import CENTIMETRES, INCHES
from horses.units import show_force

ROPE = Allowance("rope", 500.0, "N", case="rope_forward", limit="peak_pressure_cranial")


def test_left_and_right_share_a_row_and_keep_their_numbers() -> None:
    (row,) = allowance_rows(
        (
            Allowance("bend", math.radians(12.0), "rad", "left", "bend_left", limit="stability"),
            Allowance("bend", math.radians(9.0), "rad", "right", "bend_right", limit="stability"),
        ),
        INCHES,
    )
    assert row.value == "12.0° / 9.0°"
    assert [room.side for room in row.rooms] == ["left (near)", "right (off)"]
    assert row.limit == "first: the tree no longer holds"


def test_one_code_in_two_load_cases_makes_two_rows() -> None:
    rooms = [
        Allowance("tip_room_rear", value, "m", side, case, limit="tip_carries")
        for side in ("left", "right")
        for case, value in (("standing", 0.0), ("saddle_only", 0.0052))
    ]
    standing, girthed = allowance_rows(rooms, INCHES)
    assert (standing.value, standing.limit) == ("none / none", "carries already")
    assert (girthed.value, girthed.limit) == ("5.2 mm / 5.2 mm", "")
    assert girthed.case == "Saddle and girth, no rider"


def test_pull_is_in_the_practices_unit() -> None:
    (pounds,), (newtons,) = (allowance_rows((ROPE,), unit) for unit in (INCHES, CENTIMETRES))
    assert pounds.value == "112 lb (500 N)"  # 1 lbf = 4.4482216 N, by definition
    assert newtons.value == "500 N"
    assert show_force(4.4482216152605 * 7, imperial=True) == "7 lb (31 N)"
    assert newtons.limit == "first: Highest pressure, front third"


def test_sweep_that_passed_nothing_says_at_least() -> None:
    (row,) = allowance_rows(
        (Allowance("bend", math.radians(20), "rad", "left", "bend_left", reached=False),), INCHES
    )
    assert row.value == "at least 20.0°"
    assert row.limit == "no limit passed up to there"


def test_nothing_left_says_what_is_past_already() -> None:
    past = Allowance("rope", 0.0, "N", case="rope_rear", limit="share_behind_last_rib")
    (row,) = allowance_rows((past,), INCHES)
    assert (row.value, row.limit) == ("none", "past it standing: Load behind the last rib")


@pytest.mark.parametrize(("value", "said"), [(0.02, "carries first"), (0.0, "carries already")])
def test_tip_that_carries_first_is_named(value: float, said: str) -> None:
    turn = Allowance("tip_turn_front", value, "rad", "right", "standing", limit="tip_carries")
    (row,) = allowance_rows((turn,), INCHES)
    assert row.limit == f"the right tip {said}"
    assert row.rooms[0].side == ""


# -- Places


def at(shift: float, push: float, *, settles: bool = False, **levels: str) -> PlacementPoint:
    kept = tuple((code, level, 0.0) for code, level in levels.items())
    return PlacementPoint(0.02 + shift, shift, kept, push, settles)


SWEEP = (
    at(-0.02, 12.0, behind_blade="beyond", bridging="plain"),
    at(-0.003, 0.1, behind_blade="plain", bridging="plain", settles=True),
    at(0.0, -2.0, behind_blade="plain", bridging="plain"),
    at(0.02, -14.0, behind_blade="plain", bridging="watch"),
)


def test_places_say_what_changes_there() -> None:
    rows = placement_rows(SWEEP)
    assert [row.where for row in rows] == [
        "20 mm ahead",
        "3.0 mm ahead",
        "as placed",
        "20 mm behind",
    ]
    assert rows[0].changes == ("Support begins behind the blade by: beyond the limit",)
    assert rows[1].changes == ()
    assert rows[3].changes == ("Gap under the middle of the bar: watch",)
    assert [row.push for row in rows] == [
        "12 N to the rear",
        "no push",
        "2 N to the front",
        "14 N to the front",
    ]


def test_place_it_creeps_to_is_said() -> None:
    assert "creeps to 3.0 mm ahead" in settled_words(SWEEP)
    assert "stays where it was put" in settled_words((at(0.0, 0.0, settles=True),))


def test_tree_that_tends_further_says_which_way() -> None:
    assert "tends to the rear" in settled_words((at(-0.02, 9.0), at(0.0, 8.0), at(0.02, 7.0)))
    assert "tends to the front" in settled_words((at(0.0, -8.0), at(0.02, math.nan)))
    assert settled_words(()) == ""
    assert "Neither" in settled_words((at(0.0, 0.0), at(0.02, 0.1)))


def test_place_without_rest_says_so() -> None:
    assert placement_rows((at(0.0, 1.0), at(0.03, math.nan)))[1].push == "finds no rest there"
