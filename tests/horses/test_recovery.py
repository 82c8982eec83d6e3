"""The long-ride recovery rule: rows of (before, after, next day, second day) and what they mean.

The rule is common practice made computable; it has no published source.
"""

from datetime import UTC, datetime, timedelta

import pytest

from horses.recovery import Felt, Outcome, judge_recovery, must_refer

BLADE, REAR, LOIN = ("BS", "L"), ("RB", "L"), ("LO", "L")
HOURS = {"before": -2.0, "after": 0.3, "next_day": 24.0, "second_day": 48.0}


def felt(**rows: dict[tuple[str, str], int | None]) -> dict[str, Felt]:
    return {moment: Felt(scores, HOURS[moment]) for moment, scores in rows.items()}


def test_of(*pairs: tuple[int | None, int | None]) -> dict[str, Felt]:
    return felt(
        **{
            moment: {BLADE: blade, LOIN: loin}
            for moment, (blade, loin) in zip(HOURS, pairs, strict=True)
        }
    )


test_of.__test__ = False  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("name", "checks", "outcome"),
    [
        ("flat tree, 12 h", test_of((1, 1), (3, 3), (3, 3), (3, 2)), Outcome.FAIL),
        ("new tree, first season", test_of((0, 0), (1, 0), (1, 0), (0, 0)), Outcome.PASS),
        ("new tree, second season", test_of((0, 0), (1, 1), (0, 1), (0, 0)), Outcome.PASS),
        ("new tree, 13 h", test_of((0, 0), (1, 0), (1, 0), (0, 0)), Outcome.PASS),
        (
            "Cinderpath",
            felt(before={REAR: 0}, after={REAR: 1}, next_day={REAR: 2}, second_day={REAR: 1}),
            Outcome.SLOW,
        ),
        ("only the second day is 1 up", test_of((0, 0), (1, 0), (1, 0), (1, 0)), Outcome.SLOW),
        ("only the next day is 2 up", test_of((0, 0), (2, 0), (2, 0), (0, 0)), Outcome.SLOW),
        ("second day 2 up", test_of((0, 0), (1, 0), (1, 0), (2, 0)), Outcome.FAIL),
        ("a 3 the next day, though 1 up", test_of((2, 0), (3, 0), (3, 0), (2, 0)), Outcome.FAIL),
        ("sore before and no worse", test_of((2, 1), (2, 1), (2, 1), (2, 1)), Outcome.PASS),
        ("better than before", test_of((2, 1), (2, 1), (1, 0), (0, 0)), Outcome.PASS),
        (
            "not tested the second day",
            test_of((0, 0), (1, 0), (1, 0), (None, 0)),
            Outcome.INCOMPLETE,
        ),
        ("not tested is not zero", test_of((None, 0), (1, 0), (1, 0), (0, 0)), Outcome.INCOMPLETE),
    ],
)
def test_rule(name: str, checks: dict[str, Felt], outcome: Outcome) -> None:
    assert judge_recovery(checks).outcome is outcome, name


def test_heat_or_swelling_fails_whatever_the_scores() -> None:
    checks = test_of((0, 0), (0, 0), (0, 0), (0, 0))
    checks["second_day"] = Felt({BLADE: 0, LOIN: 0}, 48.0, has_heat_or_swelling=True)
    result = judge_recovery(checks)
    assert result.outcome is Outcome.FAIL
    assert result.reasons == ("heat or swelling the second day",)


def test_without_a_check_before_nothing_can_be_passed() -> None:
    checks = test_of((0, 0), (0, 0), (0, 0), (0, 0))
    del checks["before"]
    assert judge_recovery(checks).outcome is Outcome.INCOMPLETE


@pytest.mark.parametrize(
    ("hours", "outcome"),
    [
        (43.9, Outcome.INCOMPLETE),
        (44.0, Outcome.PASS),
        (52.0, Outcome.PASS),
        (52.1, Outcome.INCOMPLETE),
    ],
)
def test_second_day_counts_from_44_to_52_hours(hours: float, outcome: Outcome) -> None:
    checks = test_of((0, 0), (1, 0), (1, 0), (0, 0))
    checks["second_day"] = Felt({BLADE: 0, LOIN: 0}, hours)
    assert judge_recovery(checks).outcome is outcome


def test_a_late_check_that_is_still_sore_fails_but_an_early_one_does_not() -> None:
    checks = test_of((0, 0), (1, 0), (1, 0), (0, 0))
    checks["second_day"] = Felt({BLADE: 2, LOIN: 0}, 60.0)
    assert judge_recovery(checks).outcome is Outcome.FAIL
    checks["second_day"] = Felt({BLADE: 2, LOIN: 0}, 30.0)
    assert judge_recovery(checks).outcome is Outcome.INCOMPLETE


def test_left_and_right_are_compared_apart() -> None:
    sides = {("BS", "L"): 0, ("BS", "R"): 2}
    crossed = {("BS", "L"): 2, ("BS", "R"): 0}
    checks = felt(before=sides, next_day=sides, second_day=crossed)
    assert judge_recovery(checks).outcome is Outcome.FAIL


def test_two_fails_within_a_year_are_referred() -> None:
    fail = judge_recovery(test_of((0, 0), (3, 3), (3, 3), (3, 3)))
    passed = judge_recovery(test_of((0, 0), (0, 0), (0, 0), (0, 0)))
    day = datetime(2024, 6, 1, tzinfo=UTC)
    assert must_refer([(day, fail), (day + timedelta(days=30), fail)])
    assert not must_refer([(day, fail), (day + timedelta(days=30), passed)])
    assert not must_refer([(day, fail), (day + timedelta(days=400), fail)])
    assert not must_refer([])
