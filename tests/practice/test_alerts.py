"""Alerts: each rule at its edge, many horses at once, and putting one off."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fitting.models import FitEvaluation, HandCheck, Verdict
from horses.models import Horse, Ride
from horses.recovery import Outcome, RecoveryResult
from horses.seasons import BackPoint, SectionNumbers, SorenessPoint
from practice import alerts as rules
from practice.models import AlertDeferral, User
from practice.selectors.alerts import alerts_of, horses_in_care
from tests.factories import (
    make_horse,
    make_measurement,
    make_pairing,
    make_practice,
    make_soreness_check,
    make_visit,
)

SignIn = Callable[[User], Client]
NOON = datetime(2026, 5, 14, 12, 0, tzinfo=UTC)
DAY = date(2026, 5, 14)
WORDS = {"BS": "Behind the shoulder blade", "LO": "Loin"}
STATIONS = {f"S{i}": f"S{i}" for i in range(1, 6)}


@pytest.fixture(autouse=True)
def _clock() -> object:
    with time_machine.travel(NOON, tick=False) as clock:
        yield clock


def soreness(days_ago: int, **scores: int | None) -> SorenessPoint:
    keyed = {(name[:2], name[2]): score for name, score in scores.items()}
    return SorenessPoint(DAY - timedelta(days=days_ago), keyed)


def back(days_ago: int, **widths: float) -> BackPoint:
    sections = {
        (name[:2], name[2]): SectionNumbers(60.0, width, None) for name, width in widths.items()
    }
    return BackPoint(DAY - timedelta(days=days_ago), sections)


# The rules --------------------------------------------------------------------------------------


def test_only_a_site_sore_both_times_is_sore_twice() -> None:
    points = [soreness(30, BSL=2, LOR=3, LOL=2), soreness(1, BSL=2, LOR=1, LOL=None)]
    (alert,) = rules.sore_twice(points, WORDS)
    assert alert.why == "Behind the shoulder blade, left: sore on 14 Apr 2026 and 13 May 2026."
    assert "veterinarian" in alert.what
    assert rules.sore_twice(points[1:], WORDS) == []
    assert rules.sore_twice([soreness(30, BSL=1), soreness(1, BSL=4)], WORDS) == []


@pytest.mark.parametrize(
    ("outcome", "days_ago", "level"),
    [
        (Outcome.FAIL, 5, "beyond"),
        (Outcome.SLOW, 5, "watch"),
        (Outcome.PASS, 5, None),
        (Outcome.INCOMPLETE, 5, None),
        (Outcome.FAIL, 61, None),
    ],
)
def test_the_last_long_ride_speaks(outcome: Outcome, days_ago: int, level: str | None) -> None:
    tests = [(NOON - timedelta(days=days_ago), RecoveryResult(outcome, ("stiff",)))]
    found = rules.recovery(tests, DAY)
    assert [alert.level for alert in found] == ([level] if level else [])


def test_two_fails_in_a_year_stop_the_long_rides() -> None:
    failed = RecoveryResult(Outcome.FAIL, ("hot",))
    tests = [(NOON - timedelta(days=300), failed), (NOON - timedelta(days=100), failed)]
    (alert,) = rules.recovery(tests, DAY)
    assert alert.what.startswith("No long rides. Ask the veterinarian")
    (once,) = rules.recovery(tests[-1:], NOON.date() - timedelta(days=90))
    assert once.code != alert.code  # putting off the first test leaves the second one loud


def test_drift_counts_from_beyond_the_error_and_only_after_the_fit() -> None:
    fitted, now = back(90, S1L=150, S3R=160, S4L=150), back(1, S1L=154.5, S3R=156, S4L=190)
    (alert,) = rules.drift(fitted, now, STATIONS, 4.0)
    assert "S1 left +4 mm" in alert.why  # 4.5 rounds to even
    assert "S3" not in alert.why  # just the error
    assert "S4" not in alert.why  # not one of those followed
    assert rules.drift(fitted, now, STATIONS, 5.0) == []
    assert rules.drift(now, fitted, STATIONS, 4.0) == []
    assert rules.drift(None, now, STATIONS, 4.0) == []


def test_new_difference_of_the_sides_sends_to_the_veterinarian() -> None:
    (alert,) = rules.uneven([back(60, S1L=150, S1R=142), back(1, S1L=154, S1R=143)], STATIONS)
    assert "11 mm" in alert.why
    assert "veterinarian" in alert.what
    assert rules.uneven([back(60, S1L=153, S1R=142), back(1, S1L=154, S1R=143)], STATIONS) == []


# From the records -------------------------------------------------------------------------------


def codes(horse: Horse) -> list[str]:
    return [alert.code for row in alerts_of([horse], DAY) for alert in row.alerts]


def slipping(horse: Horse, outcome: str, days_ago: int = 1) -> None:
    pairing = horse.pairings.first() or make_pairing(horse)
    visit = make_visit([horse], starts_at=NOON - timedelta(days=days_ago))
    HandCheck.objects.create(
        pairing=pairing, visit=visit, phase="ridden", code="slip", outcome=outcome
    )


@pytest.mark.django_db
def test_a_calm_horse_has_none() -> None:
    horse = make_horse()
    make_soreness_check(horse)
    make_measurement(horse)
    assert alerts_of([horse], DAY) == []


@pytest.mark.django_db
def test_only_the_last_check_of_slip_counts() -> None:
    horse = make_horse()
    slipping(horse, "bad", days_ago=40)
    assert codes(horse) == ["slip"]
    slipping(horse, "not_tested", days_ago=20)
    assert codes(horse) == ["slip"]
    slipping(horse, "good", days_ago=3)
    assert codes(horse) == []


@pytest.mark.django_db
def test_checks_after_a_ride_do_not_make_a_site_sore_twice() -> None:
    horse = make_horse()
    sore = {("BS", "L"): 2}
    make_soreness_check(horse, sore, checked_at=NOON - timedelta(days=9))
    make_soreness_check(horse, sore, checked_at=NOON - timedelta(days=1), moment="after")
    assert codes(horse) == []
    make_soreness_check(horse, sore, checked_at=NOON)
    assert codes(horse) == ["sore_twice"]


@pytest.mark.django_db
def test_verdict_that_ran_out_and_shims_past_their_day(fitter: User) -> None:
    horse = make_horse()
    pairing = make_pairing(horse, shim_rear_left_mm=3, shims_until=DAY - timedelta(days=1))
    Verdict.objects.create(
        pairing=pairing,
        visit=make_visit([horse]),
        word="carry_on",
        confidence="measured",
        signed_by=fitter,
        signed_at=NOON - timedelta(days=200),
        expires_on=DAY - timedelta(days=1),
    )
    assert codes(horse) == ["expired", "shims"]


@pytest.mark.django_db
def test_drift_is_from_the_measuring_of_the_last_fit() -> None:
    horse = make_horse()
    pairing = make_pairing(horse)
    old = make_measurement(horse, measured_on=DAY - timedelta(days=500))
    FitEvaluation.objects.create(
        pairing=pairing, measurement=old, evaluated_on=old.measured_on, state="done"
    )
    new = make_measurement(horse, measured_on=DAY - timedelta(days=2))
    assert codes(horse) == []
    for section in new.sections.filter(station="S3"):
        section.points = [[depth, width * 1.06] for depth, width in section.points]
        section.save()
    assert codes(horse) == ["drift"]
    new.rested_hind_foot = True
    new.save()
    assert codes(horse) == []


@pytest.mark.django_db
def test_the_number_of_queries_does_not_grow_with_horses(fitter: User) -> None:
    def stock() -> None:
        horse = make_horse()
        slipping(horse, "bad")
        for days_ago in (40, 2):
            when = NOON - timedelta(days=days_ago)
            make_soreness_check(horse, {("BS", "L"): 2}, checked_at=when)
            make_measurement(horse, measured_on=when.date())
        ride = Ride.objects.create(horse=horse, ended_at=NOON - timedelta(days=3), hours=6)
        make_soreness_check(horse, ride=ride, moment="before", checked_at=ride.ended_at)

    counts = []
    for _ in range(2):
        stock()
        with CaptureQueriesContext(connection) as caught:
            found = alerts_of(horses_in_care(), DAY)
        counts.append((len(caught), len(found)))
    assert counts[0][0] == counts[1][0]
    assert [found for _, found in counts] == [1, 2]


# Putting off ------------------------------------------------------------------------------------


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice(time_zone="UTC")
    return signed_in(fitter)


@pytest.mark.django_db
def test_an_alert_put_off_leaves_today_and_stays_with_its_reason(page: Client) -> None:
    horse = make_horse()
    slipping(horse, "bad")
    assert "Slips to one side" in page.get("/").content.decode()
    data = {"until": "2026-06-01", "reason": "Vet comes on Friday"}
    page.post(reverse("alert_put_off", args=(horse.pk, "slip")), data, follow=True)
    text = page.get("/").content.decode()
    assert "Slips to one side" not in text
    assert "1 put off" in text
    assert "Vet comes on Friday" in page.get(f"/horses/{horse.pk}/").content.decode()
    (row,) = alerts_of([horse], date(2026, 6, 2))
    assert [alert.code for alert in row.alerts] == ["slip"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"until": "2026-06-01", "reason": " "}, "whoever looks next will ask"),
        ({"until": "2026-05-14", "reason": "later"}, "after today"),
        ({"until": "2026-12-14", "reason": "later"}, "half a year"),
        ({"until": "soon", "reason": "later"}, "Enter a valid date"),
    ],
)
def test_putting_off_needs_a_day_and_a_reason(
    page: Client, data: dict[str, str], words: str
) -> None:
    answer = page.post(reverse("alert_put_off", args=(make_horse().pk, "slip")), data)
    text = answer.content.decode()
    assert words in text
    assert data["reason"].strip() in text
    assert not AlertDeferral.objects.exists()


@pytest.mark.django_db
def test_an_alert_nobody_knows_is_not_found(page: Client) -> None:
    assert page.get(f"/horses/{make_horse().pk}/alerts/unicorn/put-off/").status_code == 404
