"""The calibration's page shows the committed result: gaps first, both numbers beside each other."""

from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fitting.adapters.calibration_page import VERDICTS, calibration_page
from fitting.adapters.model_limits import LIMITS, model_account
from fitting.calibration.stored import stored
from fitting.engine import default_layers
from tests.factories import make_user

BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def html(db: None, client: Client) -> str:
    client.force_login(make_user("read_only"), BACKEND)
    answer = client.get(reverse("calibration"))
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def test_every_experiment_is_shown_with_both_numbers(html: str) -> None:
    rows = [row for _, group in calibration_page().groups for row in group]
    assert sorted(row.id for row in rows) == sorted(r["id"] for r in stored()["experiments"])
    for row in rows:
        block = html.split(f'id="{row.id}"')[1].split("</li>")[0]
        assert row.published in block
        assert row.ours in block
        assert row.words in block


def test_what_is_not_met_comes_first(html: str) -> None:
    gap, met = (
        next(r["id"] for r in stored()["experiments"] if r["verdict"] == verdict)
        for verdict in ("near", "fits")
    )
    assert html.index(f'id="{gap}"') < html.index(f'id="{met}"')
    assert html.index(VERDICTS["near"][2]) < html.index(VERDICTS["holds"][2])


def test_every_assumption_has_the_range_left(html: str) -> None:
    for row in calibration_page().assumptions:
        assert row.title in html
        assert f"{row.range} left open" in html


def test_page_says_what_the_model_leaves_out_and_that_the_back_overrules(html: str) -> None:
    assert [limit.title for limit in LIMITS if limit.title not in html] == []
    assert "a sore back overrules it" in html
    assert "call your veterinarian first" in html


def test_account_for_programs_has_limits_and_defaults() -> None:
    account = model_account()
    assert len(account["limits"]) == len(LIMITS)
    taken = {row["what"]: row["taken"] for row in account["defaults"]}
    stiffness = default_layers(pad_thickness=0.0).tissue.modulus_per_area
    assert taken["Give of the back at first touch"] == f"{stiffness / 1e6:.2f} kPa/mm"
    assert all(row["range"] and row["why"] for row in account["defaults"])


def test_page_asks_the_database_for_nothing_of_its_own(
    db: None, client: Client, django_assert_max_num_queries: Any
) -> None:
    client.force_login(make_user("read_only"), BACKEND)
    with django_assert_max_num_queries(4):  # session, user, role, practice
        client.get(reverse("calibration"))


@pytest.mark.django_db
def test_page_is_not_for_strangers(client: Client) -> None:
    answer = client.get(reverse("calibration"))
    assert answer.status_code == 302
    assert "sign-in" in answer.headers["Location"]
