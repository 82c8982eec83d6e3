"""Two fits of one horse side by side."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from fitting.adapters.comparison import change_word, changes_between
from fitting.adapters.evaluation_page import result_of
from fitting.engine import RULES
from horses.charts.theme import INCHES
from practice.models import User
from tests.factories import make_measurement, make_practice
from tests.fitting.evaluated import evaluated, flat_saddle
from tests.fitting.test_evaluation_page import figure_of

pytestmark = pytest.mark.django_db
RULE = {rule.code: rule for rule in RULES}


@pytest.mark.parametrize(
    ("code", "before", "after", "word"),
    [
        ("bridging", 0.012, 0.002, "better"),
        ("bridging", 0.002, 0.012, "worse"),
        ("bridging", 0.001, 0.004, "same"),  # both plain
        ("bridging", 0.0090, 0.0094, "same"),  # less than a hand can measure
        ("ahead_of_last_rib", -0.05, 0.01, "better"),
        ("ahead_of_last_rib", 0.01, -0.03, "worse"),
        ("rock", 0.014, -0.001, "better"),
        ("rock", 0.0, -0.010, "worse"),
        ("mean_pressure_caudal", 9.0e3, 14.0e3, "worse"),
        ("mean_pressure_middle", 3.0e3, 13.0e3, "more"),  # it relieves the ends
        ("mean_pressure_middle", 3.0e3, 20.0e3, "worse"),
    ],
)
def test_the_word_follows_the_distance_from_the_plain_range(
    code: str, before: float, after: float, word: str
) -> None:
    assert change_word(RULE[code], before, after) == word


def test_the_rocked_tree_is_better_than_the_flat_one_where_it_counts() -> None:
    measurement = make_measurement()
    flat, rocked = evaluated(measurement, flat_saddle()), evaluated(measurement)
    changes = changes_between(result_of(flat), result_of(rocked), INCHES)
    words = {(change.after.code, change.side): change.word for change in changes}
    for code in ("bridging", "rock", "ahead_of_last_rib"):
        for side in ("left (near)", "right (off)"):
            assert words[code, side] == "better"
    assert words["mean_pressure_cranial", ""] == "better"
    back = changes_between(result_of(rocked), result_of(flat), INCHES)
    assert {c.word for c in back if c.after.code == "bridging"} == {"worse"}


@pytest.fixture
def client(signed_in: Callable[[User], Client], fitter: User) -> Client:
    make_practice()
    return signed_in(fitter)


def test_both_are_drawn_on_one_scale(client: Client) -> None:
    measurement = make_measurement()
    first, second = evaluated(measurement, flat_saddle(tag="SD-61")), evaluated(measurement)
    url = reverse("evaluation_compare", args=[first.pk, second.pk])
    html = client.get(url).content.decode()
    assert (
        figure_of(html, "map-a")["data"][0]["zmax"] == figure_of(html, "map-b")["data"][0]["zmax"]
    )
    assert html.index("Not felt over") < html.index("What changed")
    assert "SD-61, 14 May 2026" in html
    assert '<span class="level plain">better</span>' in html


def test_another_horse_s_fit_cannot_be_set_beside(client: Client) -> None:
    url = reverse("evaluation_compare", args=[evaluated().pk, evaluated().pk])
    assert client.get(url).status_code == 404


def test_one_that_is_not_computed_leads_to_its_own_page(client: Client) -> None:
    measurement = make_measurement()
    failed = evaluated(measurement, tip_behind_blade_mm=None)
    url = reverse("evaluation_compare", args=[evaluated(measurement).pk, failed.pk])
    assert client.get(url).url == reverse("evaluation_detail", args=[failed.pk])


def test_a_stranger_finds_nothing(signed_in: Callable[[User], Client], stranger: User) -> None:
    measurement = make_measurement()
    url = reverse("evaluation_compare", args=[evaluated(measurement).pk, evaluated(measurement).pk])
    assert signed_in(stranger).get(url).status_code == 404
