"""Soreness by tree over the practice: which check speaks for which tree, and what is said."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fitting.models import Pairing, Saddle
from fitting.selectors.soreness_by_tree import attributed
from horses.models import Horse
from horses.selectors.felt_values import felt_values
from practice.models import User
from tests.factories import (
    make_horse,
    make_pairing,
    make_saddle,
    make_soreness_check,
    make_tree,
    make_user,
)

pytestmark = pytest.mark.django_db
START = date(2026, 1, 1)
SIDES = tuple((site, side) for site in ("WS", "BS", "RB", "LO") for side in "LR")


@pytest.fixture
def browser() -> Client:
    client = Client()
    user: User = make_user("lead")
    client.force_login(user, "django.contrib.auth.backends.ModelBackend")
    return client


def felt(horse: Horse, days_after: int, score: int | None, **moment: str) -> None:
    when = datetime(2026, 1, 1, 10, tzinfo=UTC) + timedelta(days=days_after)
    make_soreness_check(horse, dict.fromkeys(SIDES, score), checked_at=when, **moment)


def saddle_on(tag: str) -> Saddle:
    return make_saddle(tag=f"S-{tag}", tree=make_tree(tag=tag))


def used(horse: Horse, saddle: Saddle, **dates: date) -> Pairing:
    return make_pairing(horse, saddle=saddle, pad=None, rider=None, **dates)


def test_a_check_on_the_day_a_saddle_comes_speaks_for_the_one_before() -> None:
    horse, old, new = make_horse(), saddle_on("TR-A"), saddle_on("TR-B")
    change = START + timedelta(days=30)
    used(horse, old, from_date=START, to_date=change)
    used(horse, new, from_date=change)
    for day in (10, 30, 40):
        felt(horse, day, 1)
    found = attributed(felt_values())
    assert [(value.day, tree.tree) for value, tree in found.felt] == [
        (START + timedelta(days=10), "TR-A"),
        (change, "TR-A"),
        (START + timedelta(days=40), "TR-B"),
    ]


def test_a_horse_under_two_trees_at_once_speaks_for_neither() -> None:
    horse = make_horse()
    used(horse, saddle_on("TR-A"), from_date=START)
    used(horse, saddle_on("TR-B"), from_date=START)
    felt(horse, 10, 2)
    felt(make_horse(), 10, 2)
    found = attributed(felt_values())
    assert (found.felt, found.under_several, found.under_none) == ((), 1, 1)


def test_saddles_the_horse_cannot_tell_apart_count_as_one() -> None:
    horse, tree = make_horse(), make_tree(tag="TR-A")
    first, second = make_saddle(tag="S-1", tree=tree), make_saddle(tag="S-2", tree=tree)
    used(horse, first, from_date=START)
    used(horse, second, from_date=START)
    felt(horse, 10, 2)
    assert len(attributed(felt_values()).felt) == 1


def test_what_was_not_tested_is_no_zero_and_too_little_is_left_out() -> None:
    horse = make_horse()
    felt(horse, 10, None)
    few = dict.fromkeys(SIDES, None) | {("BS", "L"): 3, ("BS", "R"): 1}
    make_soreness_check(horse, few)
    half = dict.fromkeys(SIDES, None) | {("BS", "L"): 3, ("BS", "R"): 1, ("LO", "L"): 2}
    make_soreness_check(horse, half | {("LO", "R"): 2})
    (value,) = felt_values()
    assert (value.value, value.left, value.right) == (2.0, 2.5, 1.5)
    assert (value.tested, value.sore) == (4, 3)


def test_checks_after_a_ride_belong_to_its_recovery() -> None:
    felt(make_horse(), 10, 2, moment="after")
    assert felt_values() == []


def stocked() -> None:
    """Five horses sore under one tree, five calm under another, one very sore under a third."""
    trees = [saddle_on("TR-A"), saddle_on("TR-B"), saddle_on("TR-C")]
    for i in range(11):
        horse = make_horse()
        used(horse, trees[i // 5], from_date=START)
        for day in (10, 40, 70):
            felt(horse, day, (2, 0, 3)[i // 5])


def test_page_puts_the_sorest_first_with_its_counts_and_no_cause(browser: Client) -> None:
    stocked()
    page = browser.get(reverse("soreness_by_tree"))
    rows = {row.name.split(",")[0]: row for row in page.context["page"].rows}
    assert (rows["TR-A"].horses, rows["TR-A"].checks) == (5, 15)
    assert rows["TR-A"].part - rows["TR-B"].part > 1
    assert [row.part for row in page.context["page"].rows] == sorted(
        (row.part for row in rows.values()), reverse=True
    )
    assert rows["TR-C"].words.startswith("Too few horses")
    assert rows["TR-C"].mean - rows["TR-C"].part > page.context["page"].mean
    text = page.content.decode()
    assert "is not what causes it" in text
    assert "veterinarian" in text


def test_file_carries_every_tree_and_is_no_formula(browser: Client) -> None:
    stocked()
    saddle = Saddle.objects.get(tag="S-TR-A")
    assert saddle.tree is not None
    saddle.tree.tag = "=1+1"
    saddle.tree.save()
    answer = browser.get(reverse("soreness_by_tree"), {"format": "csv"})
    assert answer["Content-Type"].startswith("text/csv")
    lines = answer.content.decode("utf-8-sig").strip().splitlines()
    assert len(lines) == 4
    assert any(line.startswith(("\"'=1+1", "'=1+1")) for line in lines)


def test_an_empty_practice_is_told_what_is_needed(browser: Client) -> None:
    assert "Nothing to compare yet" in browser.get(reverse("soreness_by_tree")).content.decode()
