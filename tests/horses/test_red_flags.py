"""What sends a horse to the veterinarian first. The list is common practice without a source."""

from datetime import date, timedelta

import pytest

from horses.red_flags import Mark, skin_flags, soreness_flags, uneven_flags
from horses.seasons import BackPoint, SectionNumbers, SorenessPoint, site_changes

DAY = date(2026, 5, 14)
WORDS = {"BS": "Behind the shoulder blade", "SP": "Spine tips", "CR": "Croup", "LO": "Loin"}
Scores = dict[tuple[str, str], int | None]


def flags(
    now: Scores, before: Scores | None = None, hot: list[tuple[str, str]] | None = None
) -> list[str]:
    earlier = None if before is None else SorenessPoint(DAY - timedelta(days=14), before)
    return soreness_flags(
        SorenessPoint(DAY, now), earlier, hot_and_swollen=hot or [], site_words=WORDS
    )


@pytest.mark.parametrize(
    ("now", "before", "count"),
    [
        ({("BS", "L"): 3}, None, 0),  # seen once
        ({("BS", "L"): 3}, {("BS", "L"): 3}, 1),
        ({("BS", "L"): 3}, {("BS", "R"): 3}, 0),  # the other side is another place
        ({("BS", "L"): 3}, {("BS", "L"): None}, 0),
        ({("BS", "L"): 4}, None, 1),
        ({("SP", "M"): 2}, None, 1),
        ({("SP", "M"): 1, ("LO", "L"): 2}, None, 0),
        ({("SP", "M"): None}, {("SP", "M"): 4}, 0),
    ],
)
def test_soreness(now: Scores, before: Scores | None, count: int) -> None:
    assert len(flags(now, before)) == count


def test_heat_with_swelling_is_named_by_place() -> None:
    assert flags({("LO", "L"): 0}, hot=[("LO", "L")]) == ["Heat with swelling: loin."]


def test_words_name_place_and_side_and_no_cause() -> None:
    assert flags({("BS", "R"): 3}, {("BS", "R"): 3}) == [
        "A score of 3 that repeats: behind the shoulder blade, right."
    ]


def back(days: int, left: float, right: float) -> BackPoint:
    sections = {
        ("S1", "L"): SectionNumbers(70, left, 45),
        ("S1", "R"): SectionNumbers(70, right, 45),
    }
    return BackPoint(DAY + timedelta(days=days), sections)


@pytest.mark.parametrize(
    ("before", "now", "is_flagged"),
    [
        ((174, 173), (174, 163.5), True),
        ((174, 173), (174, 164.5), False),
        ((178, 162), (178, 162), False),  # known already
        ((174, 173), (163, 174), True),
    ],
)
def test_a_new_difference_of_more_than_10_mm(
    before: tuple[float, float], now: tuple[float, float], is_flagged: bool
) -> None:
    found = uneven_flags([back(0, *before), back(60, *now)], {"S1": "S1 front"})
    assert bool(found) is is_flagged


def test_the_first_measuring_has_nothing_to_be_newer_than() -> None:
    assert uneven_flags([back(0, 178, 162)], {"S1": "S1 front"}) == []


def test_only_fresh_open_marks_count() -> None:
    fresh = Mark("gall", "Gall at girth line, left", DAY - timedelta(days=3))
    old = Mark("gall", "Gall at loin", DAY - timedelta(days=90))
    hairs = Mark("white_hair", "White hairs", DAY)
    assert skin_flags([fresh, old, hairs], DAY) == [
        "Gall at girth line, left, first seen 11 May 2026."
    ]


def test_places_are_compared_worst_first_and_untested_is_no_number() -> None:
    now = SorenessPoint(DAY, {("LO", "L"): 1, ("BS", "L"): 3, ("BS", "R"): None, ("SP", "M"): 0})
    before = SorenessPoint(DAY, {("LO", "L"): 2, ("BS", "R"): 1, ("SP", "M"): 0})
    found = site_changes(now, before, list(WORDS))
    assert [(c.site, c.side, c.word) for c in found] == [
        ("BS", "L", "not compared"),
        ("LO", "L", "better"),
        ("BS", "R", "not tested"),
    ]
