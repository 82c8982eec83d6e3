"""Today: the round in order, and what is due, unfinished or worrying."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fitting.models import Pairing, Verdict
from practice.models import User
from practice.selectors.today import due_horses, shims_past_date, sore_checks, unfinished_visits
from tests.factories import (
    make_horse,
    make_pairing,
    make_place,
    make_practice,
    make_soreness_check,
    make_visit,
)

SignIn = Callable[[User], Client]
NOON = datetime(2026, 5, 14, 12, 0, tzinfo=UTC)
DAY = date(2026, 5, 14)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock() -> object:
    with time_machine.travel(NOON, tick=False) as clock:
        yield clock


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice(time_zone="UTC")
    return signed_in(fitter)


def sign(pairing: Pairing, by: User, **values: object) -> Verdict:
    signed_at = values.pop("signed_at", NOON - timedelta(days=100))
    visit = values.pop("visit", None) or make_visit(starts_at=signed_at, state="recorded")
    standard = {
        "word": "carry_on",
        "confidence": "measured",
        "expires_on": DAY + timedelta(days=80),
    }
    return Verdict.objects.create(
        pairing=pairing, visit=visit, signed_by=by, signed_at=signed_at, **{**standard, **values}
    )


def names(found: object) -> list[str]:
    return [due.horse.barn_name for due in found]  # type: ignore[attr-defined]


# The round --------------------------------------------------------------------------------------


def test_the_round_is_in_order_of_time(page: Client) -> None:
    late = make_visit([make_horse()], starts_at=NOON + timedelta(hours=2))
    early = make_visit([make_horse()], starts_at=NOON - timedelta(hours=3))
    make_visit([make_horse()], starts_at=NOON, state="cancelled")
    stops = page.get(reverse("today")).context["stops"]
    assert [stop.visit for stop in stops] == [early, late]
    assert stops[1].free_minutes is None  # nobody is sent to either yet
    assert stops[0].is_next


def test_a_visit_is_on_the_day_of_its_own_clock(page: Client) -> None:
    # 23:30 UTC on the 13th is already the 14th in Tokyo.
    visit = make_visit(
        [make_horse()], starts_at=datetime(2026, 5, 13, 23, 30, tzinfo=UTC), time_zone="Asia/Tokyo"
    )
    response = page.get(reverse("today"))
    assert [stop.visit for stop in response.context["stops"]] == [visit]
    assert "08:30" in response.content.decode()
    assert "Asia/Tokyo: 23:30 here" in response.content.decode()


def test_overlap_and_short_drives_are_said_at_the_later_visit(page: Client, fitter: User) -> None:
    flats, hill = make_place(), make_place(name="Lantern Hill")
    first = make_visit([make_horse()], fitter=fitter, place=flats, starts_at=NOON, minutes=60)
    make_visit([make_horse()], fitter=fitter, place=hill, starts_at=NOON + timedelta(minutes=70))
    make_visit([make_horse()], fitter=fitter, place=hill, starts_at=NOON + timedelta(minutes=100))
    stops = page.get(reverse("today")).context["stops"]
    assert stops[0].visit == first
    assert stops[0].clashes == []
    assert [c.words for c in stops[1].clashes] == [
        "Only 10 min to get from Tinbrook Flats to Lantern Hill."
    ]
    assert [c.words for c in stops[2].clashes] == [
        f"{fitter} is already at Lantern Hill 13:10–14:40."
    ]
    assert [stop.free_minutes for stop in stops] == [None, 10, -60]


def test_the_day_can_be_chosen_and_nonsense_gives_today(page: Client) -> None:
    visit = make_visit([make_horse()], starts_at=NOON + timedelta(days=2))
    chosen = page.get(reverse("today"), {"day": "2026-05-16"}).context
    assert [stop.visit for stop in chosen["stops"]] == [visit]
    for nonsense in ("tomorrow", "2026-02-30", "9999-12-31", "0001-01-01"):
        assert page.get(reverse("today"), {"day": nonsense}).context["day"] == DAY


def test_the_next_days_follow(page: Client) -> None:
    visit = make_visit([make_horse()], starts_at=NOON + timedelta(days=2))
    make_visit([make_horse()], starts_at=NOON + timedelta(days=9))
    assert page.get(reverse("today")).context["next_days"] == {date(2026, 5, 16): [visit]}


def test_a_new_practice_is_told_where_to_start(page: Client) -> None:
    assert "Add your first client and horse" in page.get(reverse("today")).content.decode()


# Due --------------------------------------------------------------------------------------------


def test_a_passed_check_date_is_overdue_and_the_day_itself_is_not(fitter: User) -> None:
    late, due_today = make_horse(barn_name="Anvil"), make_horse(barn_name="Needle")
    sign(make_pairing(late), fitter, next_check_on=DAY - timedelta(days=1))
    sign(make_pairing(due_today), fitter, next_check_on=DAY)
    assert names(due_horses(DAY)) == ["Anvil"]


def test_a_booked_visit_takes_a_horse_off_the_list(fitter: User) -> None:
    horse = make_horse()
    sign(make_pairing(horse), fitter, next_check_on=DAY - timedelta(days=1))
    visit = make_visit([horse], starts_at=NOON + timedelta(days=3))
    assert due_horses(DAY) == []
    visit.state = "cancelled"
    visit.save()
    assert names(due_horses(DAY)) == [horse.barn_name]


def test_only_the_last_verdict_counts(fitter: User) -> None:
    pairing = make_pairing()
    sign(pairing, fitter, next_check_on=DAY - timedelta(days=30))
    sign(
        pairing,
        fitter,
        signed_at=NOON - timedelta(days=10),
        next_check_on=DAY + timedelta(days=30),
    )
    assert due_horses(DAY) == []


@pytest.mark.parametrize("state", ["sold", "died", "resting", "lame"])
def test_a_horse_not_in_work_is_not_due(fitter: User, state: str) -> None:
    sign(make_pairing(make_horse(state=state)), fitter, next_check_on=DAY - timedelta(days=1))
    assert due_horses(DAY) == []


def test_an_ended_pairing_is_not_due(fitter: User) -> None:
    sign(make_pairing(to_date=DAY), fitter, next_check_on=DAY - timedelta(days=1))
    assert due_horses(DAY) == []


def test_the_longest_overdue_comes_first(fitter: User) -> None:
    for name, days in (("Anvil", 3), ("Needle", 40)):
        pairing = make_pairing(make_horse(barn_name=name))
        sign(pairing, fitter, next_check_on=DAY - timedelta(days=days))
    assert names(due_horses(DAY)) == ["Needle", "Anvil"]


def test_shims_are_listed_after_their_date() -> None:
    past = make_pairing(shim_rear_left_mm=6, shims_until=DAY - timedelta(days=1))
    make_pairing(shim_rear_left_mm=6, shims_until=DAY)
    make_pairing(shims_until=DAY - timedelta(days=1))
    assert list(shims_past_date(DAY)) == [past]


def test_yesterdays_open_visit_is_unfinished() -> None:
    yesterday = NOON - timedelta(days=1)
    left = make_visit([make_horse()], starts_at=yesterday, state="underway")
    make_visit([make_horse()], starts_at=yesterday, state="recorded")
    make_visit([make_horse()], starts_at=NOON - timedelta(hours=11))
    assert list(unfinished_visits(DAY)) == [left]


def test_only_the_last_feeling_makes_a_back_worry() -> None:
    sore, healed, untested = make_horse(), make_horse(), make_horse()
    last = make_soreness_check(sore, {("BS", "L"): 2})
    make_soreness_check(healed, {("BS", "L"): 3}, checked_at=NOON - timedelta(days=30))
    make_soreness_check(healed, {("BS", "L"): 1}, checked_at=NOON)
    make_soreness_check(make_horse(state="sold"), {("BS", "L"): 4})
    # 'Not tested' everywhere says nothing, so the sore check before it still stands.
    before = make_soreness_check(untested, {("LO", "R"): 3}, checked_at=NOON - timedelta(days=9))
    nothing = make_soreness_check(untested, checked_at=NOON)
    nothing.scores.update(score=None)
    assert set(sore_checks()) == {last, before}


def test_a_long_list_is_cut_until_all_of_it_is_asked_for(page: Client) -> None:
    for _ in range(10):
        make_soreness_check(make_horse(), {("BS", "L"): 2})
    short = page.get(reverse("today"))
    assert len(short.context["sore"]) == 8
    assert "?all=1#sore" in short.content.decode()
    whole = page.get(reverse("today"), {"all": 1})
    assert len(whole.context["sore"]) == 10
    assert "?all=1#sore" not in whole.content.decode()


def test_the_page_asks_the_database_the_same_however_much_there_is(
    page: Client, fitter: User
) -> None:
    counts = set()
    for _ in range(2):
        for _ in range(3):
            horse = make_horse()
            make_visit([horse, make_horse()], place=make_place(), fitter=fitter, starts_at=NOON)
            make_visit([horse], fitter=fitter, starts_at=NOON - timedelta(days=3))
            other = make_horse()
            pairing = make_pairing(other, shim_front_left_mm=5, shims_until=DAY - timedelta(days=3))
            sign(pairing, fitter, next_check_on=DAY - timedelta(days=1))
            make_soreness_check(other, {("BS", "L"): 2})
        with CaptureQueriesContext(connection) as asked:
            page.get(reverse("today"))
        counts.add(len(asked))
    assert len(counts) == 1


def test_a_stranger_has_no_today(stranger: User, signed_in: SignIn) -> None:
    assert signed_in(stranger).get(reverse("today")).status_code == 404
