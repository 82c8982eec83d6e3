"""Writing down a feeling-over: 'not tested' is its own state, a 4 needs words."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError

from horses.models import SiteScore, SorenessCheck
from horses.rest_first import rest_reasons
from horses.services.soreness import (
    add_skin_mark,
    forget_site,
    record_ride,
    record_soreness_check,
)
from tests.factories import make_horse, make_visit

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 5, 14, 9, 30, tzinfo=UTC)


def _scores(check: SorenessCheck) -> dict[tuple[str, str], int | None]:
    return {(row.site, row.side): row.score for row in check.scores.all()}


def test_left_and_right_and_not_tested_are_stored_as_said() -> None:
    check = record_soreness_check(
        horse=make_horse(),
        checked_at=NOW,
        scores={("BS", "L"): {"score": 3}, ("BS", "R"): {"score": None}, ("WM", "M"): {"score": 0}},
    )
    assert _scores(check) == {("BS", "L"): 3, ("BS", "R"): None, ("WM", "M"): 0}


def test_a_visit_has_one_check_and_unnamed_sites_keep_their_scores() -> None:
    horse = make_horse()
    visit = make_visit([horse])
    for scores in ({("BS", "L"): {"score": 2}}, {("LO", "R"): {"score": 1}}):
        check = record_soreness_check(horse=horse, checked_at=NOW, visit=visit, scores=scores)
    assert SorenessCheck.objects.count() == 1
    assert _scores(check) == {("BS", "L"): 2, ("LO", "R"): 1}


def test_checks_around_a_ride_are_separate_even_on_one_visit() -> None:
    horse = make_horse()
    ride = record_ride(horse=horse, ended_at=NOW, hours=12, terrain="hills")
    for moment in ("before", "after"):
        record_soreness_check(
            horse=horse,
            checked_at=NOW,
            moment=moment,
            visit=make_visit([horse]),
            ride=ride,
            scores={("BS", "L"): {"score": 1}},
        )
    assert ride.soreness_checks.count() == 2


def test_a_four_without_a_note_is_refused_and_nothing_is_stored() -> None:
    with pytest.raises(ValidationError, match="4 needs a note"):
        record_soreness_check(
            horse=make_horse(),
            checked_at=NOW,
            scores={("LO", "L"): {"score": 0}, ("BS", "L"): {"score": 4}},
        )
    assert not SiteScore.objects.exists()
    assert not SorenessCheck.objects.exists()


@pytest.mark.parametrize(("site", "side"), [("WM", "L"), ("BS", "M")])
def test_a_site_is_only_felt_on_its_own_sides(site: str, side: str) -> None:
    with pytest.raises(ValidationError):
        record_soreness_check(
            horse=make_horse(), checked_at=NOW, scores={(site, side): {"score": 0}}
        )


def test_a_score_beyond_four_is_refused() -> None:
    with pytest.raises(ValidationError):
        record_soreness_check(
            horse=make_horse(), checked_at=NOW, scores={("BS", "L"): {"score": 5, "note": "x"}}
        )


def test_a_site_entered_by_mistake_can_be_taken_back() -> None:
    check = record_soreness_check(
        horse=make_horse(), checked_at=NOW, scores={("BS", "L"): {"score": 0}}
    )
    forget_site(check=check, site="BS", side="L")
    assert not check.scores.exists()


def test_only_the_changed_score_gets_a_line_in_the_history() -> None:
    horse = make_horse()
    visit = make_visit([horse])
    both = {("BS", "L"): {"score": 1}, ("BS", "R"): {"score": 1}}
    record_soreness_check(horse=horse, checked_at=NOW, visit=visit, scores=both)
    record_soreness_check(
        horse=horse, checked_at=NOW, visit=visit, scores={**both, ("BS", "R"): {"score": 2}}
    )
    left, right = (SiteScore.objects.get(side=side) for side in "LR")
    assert (left.history.count(), right.history.count()) == (1, 2)


def test_a_ride_longer_than_a_day_is_refused() -> None:
    with pytest.raises(ValidationError):
        record_ride(horse=make_horse(), ended_at=NOW, hours=25)


def test_a_skin_mark_keeps_when_it_was_first_seen() -> None:
    mark = add_skin_mark(
        horse=make_horse(),
        kind="white_hair",
        side="L",
        site="BS",
        first_seen_on=date(2026, 4, 1),
        size_mm=25,
    )
    assert (mark.first_seen_on, mark.size_mm) == (date(2026, 4, 1), 25)


def test_swelling_or_a_three_means_rest_first_and_a_two_does_not() -> None:
    rows = [
        SiteScore(site="BS", side="L", score=3),
        SiteScore(site="LO", side="R", score=0, swelling_mm=12),
        SiteScore(site="RB", side="L", score=2),
        SiteScore(site="MB", side="L", score=None),
    ]
    assert rest_reasons(rows) == [
        "a score of 3 behind the shoulder blade, left",
        "swelling loin, right",
    ]
