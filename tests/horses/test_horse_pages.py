"""Horses: list, search, add with an owner, change."""

from collections.abc import Callable

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from horses.models import Horse
from practice.models import Client as Customer
from practice.models import User
from tests.factories import (
    make_client,
    make_horse,
    make_measurement,
    make_place,
    make_soreness_check,
)

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    return signed_in(fitter)


def names(response: object) -> list[str]:
    return [horse.barn_name for horse in response.context["page"]]  # type: ignore[attr-defined]


def test_list_leaves_out_horses_that_are_gone(page: Client) -> None:
    make_horse(barn_name="Anvil")
    make_horse(barn_name="Barn Door", state="sold")
    assert names(page.get(reverse("horse_list"))) == ["Anvil"]
    assert names(page.get(reverse("horse_list"), {"state": "sold"})) == ["Barn Door"]


def test_list_is_searched_by_words_and_place(page: Client) -> None:
    flats = make_place(name="Tinbrook Flats")
    make_horse(barn_name="Anvil", breed="stock type", place=flats)
    make_horse(barn_name="Needle")
    assert names(page.get(reverse("horse_list"), {"q": "anv stock"})) == ["Anvil"]
    assert names(page.get(reverse("horse_list"), {"place": flats.pk})) == ["Anvil"]
    assert names(page.get(reverse("horse_list"), {"place": "nonsense"})) == ["Anvil", "Needle"]


def test_list_shows_the_last_check_not_the_worst_one_ever(page: Client) -> None:
    horse = make_horse()
    make_soreness_check(horse, {("BS", "L"): 3})
    later = make_soreness_check(horse, {("BS", "L"): None, ("LO", "R"): 1})
    listed = page.get(reverse("horse_list")).context["page"][0]
    assert listed.last_check == later.pk
    assert listed.worst == 1


def test_list_asks_the_database_the_same_however_long(page: Client) -> None:
    counts = set()
    for _ in range(2):
        for _ in range(4):
            make_soreness_check(make_horse(place=make_place()))
        with CaptureQueriesContext(connection) as asked:
            page.get(reverse("horse_list"))
        counts.add(len(asked))
    assert len(counts) == 1


def test_an_empty_book_says_what_to_do_next(page: Client) -> None:
    assert b"Add the first horse with its owner" in page.get(reverse("horse_list")).content


def test_a_horse_is_added_with_a_new_owner(page: Client) -> None:
    sent = {
        "barn_name": "Anvil",
        "state": "active",
        "height_mm": "15.1 1/2",
        "new_owner": "Kettlebar Outfit",
        "owned_since": "2026-01-05",
    }
    assert page.post(reverse("horse_add"), sent).status_code == 302
    horse = Horse.objects.get()
    assert horse.height_mm == pytest.approx(1562.1)
    assert horse.typed == {"height_mm": "15.1 1/2"}
    assert horse.roles.get().client == Customer.objects.get(name="Kettlebar Outfit")


def test_a_refused_horse_keeps_everything_typed(page: Client) -> None:
    owner = make_client()
    sent = {"barn_name": "Anvil", "state": "active", "height_mm": "15.4", "owner": owner.pk}
    response = page.post(reverse("horse_add"), sent | {"notes": "kicks when girthed"})
    assert response.status_code == 200
    text = response.content.decode()
    assert "15.4 is 16.0" in text
    for typed in ('value="Anvil"', 'value="15.4"', "kicks when girthed"):
        assert typed in text
    assert not Horse.objects.exists()


def test_a_height_comes_back_as_it_was_typed(page: Client) -> None:
    horse = make_horse(height_mm=1562.1, typed={"height_mm": "15.1 1/2"})
    form = page.get(reverse("horse_edit", args=[horse.pk])).context["form"]
    assert form["height_mm"].value() == "15.1 1/2"


def test_text_that_no_longer_says_the_value_is_not_shown(page: Client) -> None:
    horse = make_horse(height_mm=1562.1, typed={"height_mm": "14.2"})
    form = page.get(reverse("horse_edit", args=[horse.pk])).context["form"]
    assert form["height_mm"].value() == "15.1 1/2 hh"


def test_saving_an_untouched_form_changes_no_value(page: Client) -> None:
    horse = make_horse(height_mm=1551.234)
    url = reverse("horse_edit", args=[horse.pk])
    form = page.get(url).context["form"]
    sent = {bound.html_name: bound.value() or "" for bound in form}
    assert page.post(url, sent).status_code == 302
    horse.refresh_from_db()
    assert horse.height_mm == pytest.approx(1551.234, abs=1e-6)


def test_a_horse_is_not_born_after_it_was_measured(page: Client) -> None:
    horse = make_horse()
    make_measurement(horse)
    sent = {"barn_name": "Anvil", "state": "active", "birth_date": "2026-05-15"}
    with time_machine.travel("2026-06-01T12:00:00Z", tick=False):
        form = page.post(reverse("horse_edit", args=[horse.pk]), sent).context["form"]
    assert form.errors["birth_date"] == ["It was measured on 14 May 2026, before that."]


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("birth_date", "2999-01-01", "has not come yet"),
        ("birth_date", "1890-01-01", "Check the year"),
        ("microchip", "12", "15 digits"),
        ("life_number", "12", "15 characters"),
    ],
)
def test_bad_papers_are_explained(page: Client, field: str, text: str, words: str) -> None:
    sent = {"barn_name": "Anvil", "state": "active", field: text}
    form = page.post(reverse("horse_add"), sent).context["form"]
    assert words in form.errors[field][0]


def test_a_reader_looks_but_does_not_change(reader: User, signed_in: SignIn) -> None:
    page = signed_in(reader)
    horse = make_horse()
    assert b"Add a horse" not in page.get(reverse("horse_list")).content
    assert page.post(reverse("horse_edit", args=[horse.pk]), {}).status_code == 403


def test_a_stranger_finds_nothing(stranger: User, signed_in: SignIn) -> None:
    page = signed_in(stranger)
    horse = make_horse()
    for url in (reverse("horse_list"), reverse("horse_edit", args=[horse.pk])):
        assert page.get(url).status_code == 404


def test_signed_out_means_sign_in(client: Client) -> None:
    assert client.get(reverse("horse_list")).url.startswith("/sign-in/")  # type: ignore[attr-defined]
