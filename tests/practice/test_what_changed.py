"""A horse's soreness before and after each change of its tack."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from horses.models import Horse
from tests.factories import (
    make_horse,
    make_pairing,
    make_rider,
    make_saddle,
    make_soreness_check,
    make_user,
)

pytestmark = pytest.mark.django_db
START = date(2026, 1, 1)
SIDES = tuple((site, side) for site in ("WS", "BS", "RB", "LO") for side in "LR")


@pytest.fixture
def horse() -> Horse:
    """Sore under the first saddle for five checks, calm under the second for five."""
    horse, change = make_horse(), START + timedelta(days=50)
    make_pairing(horse, saddle=make_saddle(tag="SD-1"), from_date=START, to_date=change)
    make_pairing(horse, saddle=make_saddle(tag="SD-2"), from_date=change)
    for check in range(10):
        when = datetime(2026, 1, 11, 10, tzinfo=UTC) + timedelta(days=10 * check)
        make_soreness_check(horse, dict.fromkeys(SIDES, 2 if check < 5 else 0), checked_at=when)
    return horse


def page_of(horse: Horse) -> str:
    client = Client()
    client.force_login(make_user("lead"), "django.contrib.auth.backends.ModelBackend")
    return client.get(reverse("what_changed", args=(horse.pk,))).content.decode()


def test_the_change_is_named_with_its_counts_and_not_as_a_cause(horse: Horse) -> None:
    text = page_of(horse)
    assert "SD-2" in text
    assert "Less sore by 2.0 of a score" in text
    assert "2.0 over 5 checks before, 0.0 over 5 after" in text
    assert "did not necessarily cause it" in text


def test_a_new_rider_is_a_change(horse: Horse) -> None:
    pairing = horse.pairings.get(to_date=None)
    pairing.to_date = START + timedelta(days=80)
    pairing.save()
    make_pairing(
        horse,
        saddle=pairing.saddle,
        pad=pairing.pad,
        rider=make_rider(name="Second Rider"),
        from_date=pairing.to_date,
    )
    assert "SD-2: rider" in page_of(horse)


def test_file_carries_each_check(horse: Horse) -> None:
    client = Client()
    client.force_login(make_user("lead"), "django.contrib.auth.backends.ModelBackend")
    answer = client.get(reverse("what_changed", args=(horse.pk,)), {"format": "csv"})
    lines = answer.content.decode("utf-8-sig").strip().splitlines()
    assert len(lines) == 11
    assert lines[1] == "2026-01-11,2.00,2.00,2.00,8,8"


def test_a_horse_never_felt_is_told_so() -> None:
    assert "Nothing felt yet" in page_of(make_horse())
