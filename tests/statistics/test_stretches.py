"""The series of one horse, parted where its tack changed."""

from dataclasses import dataclass
from datetime import date, timedelta

from horses.seasons import Change
from horses.statistics.stretches import steps_of, stretches_of

START = date(2026, 1, 1)


@dataclass(frozen=True)
class Value:
    day: date
    value: float


def series(*values: float, every: int = 10) -> list[Value]:
    return [Value(START + timedelta(days=every * i), value) for i, value in enumerate(values)]


def test_a_check_on_the_day_of_a_change_belongs_to_the_time_before() -> None:
    felt = series(1, 2, 3)
    before, after = stretches_of(felt, [Change(felt[1].day, "SD-2")])
    assert before.values == (1, 2)
    assert after.values == (3,)
    assert after.changes[0].words == "SD-2"


def test_changes_of_one_day_are_one_step() -> None:
    felt = series(1, 2, 3)
    changes = [Change(felt[0].day, "pad"), Change(felt[0].day, "rider")]
    (step,) = steps_of(stretches_of(felt, changes))
    assert [change.words for change in step.changes] == ["pad", "rider"]


def test_few_checks_say_only_that_they_are_few() -> None:
    felt = series(2, 2, 0, 0)
    (step,) = steps_of(stretches_of(felt, [Change(felt[1].day, "SD-2")]))
    assert step.words == "Too few checks to tell: 2 before, 2 after. It takes about 4 of each."


def test_a_clear_change_names_its_size_and_its_chance() -> None:
    felt = series(2.0, 2.1, 1.9, 2.2, 2.3, 0.4, 0.5, 0.3, 0.2, 0.6)
    (step,) = steps_of(stretches_of(felt, [Change(felt[4].day, "SD-2")]))
    assert step.words.startswith("Less sore by 1.7 of a score (90 %: ")
    assert "Hard to put down to chance (p 0.008)" in step.words


def test_a_muddle_may_be_chance_and_nothing_says_cause() -> None:
    felt = series(1.0, 2.0, 0.5, 1.5, 1.2, 1.1, 1.9, 0.6)
    (step,) = steps_of(stretches_of(felt, [Change(felt[3].day, "SD-2")]))
    assert "May well be chance" in step.words
    assert "cause" not in step.words


def test_no_change_is_one_stretch() -> None:
    (only,) = stretches_of(series(1, 2), [])
    assert only.median == 1.5
    assert steps_of((only,)) == ()
