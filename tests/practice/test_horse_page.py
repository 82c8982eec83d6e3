"""The horse's page: the back first, what stands above the numbers, and the seasons."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from horses.models import Horse, SkinMark
from practice.models import User, VisitHorse
from practice.selectors.horse_page import changes_in, pairings_through_time
from tests.factories import (
    make_horse,
    make_measurement,
    make_pad,
    make_pairing,
    make_practice,
    make_rider,
    make_saddle,
    make_soreness_check,
    make_visit,
)
from tests.practice.owner_report import (
    DAY,
    NOON,
    make_evaluation,
    make_reported_visit,
    make_ride_test,
    make_verdict,
)

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock() -> object:
    with time_machine.travel(NOON, tick=False) as clock:
        yield clock


@pytest.fixture
def visit_horse(fitter: User) -> VisitHorse:
    return make_reported_visit(fitter)


def page(client: Client, horse: Horse, query: str = "") -> str:
    response = client.get(reverse("horse_detail", args=[horse.pk]) + query)
    assert response.status_code == 200
    return response.content.decode()


def test_back_stands_before_saddles_and_charts(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    html = page(signed_in(fitter), visit_horse.horse)
    places = [html.index(f'id="{part}"') for part in ("back", "saddles", "seasons", "visits")]
    assert places == sorted(places)
    assert "Sore" in html
    assert "worse" in html


def test_a_new_horse_has_a_page_that_calls_nothing_sound(fitter: User, signed_in: SignIn) -> None:
    html = page(signed_in(fitter), make_horse())
    assert "Not felt over" in html
    assert "plotly" not in html


def test_red_flags_stand_above_everything(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    horse = visit_horse.horse
    client = signed_in(fitter)
    assert "Veterinarian first" not in page(client, horse)
    SkinMark.objects.create(horse=horse, kind="gall", side="L", site="GI", first_seen_on=DAY)
    horse.soreness_checks.get(moment="before").scores.filter(site="BS").update(score=3)
    fail = ((1, 1), (3, 3), (3, 3), (3, 2))
    for days in (9, 40):
        make_ride_test(horse, NOON - timedelta(days=days), *fail)
    html = page(client, horse)
    assert html.index("Veterinarian first") < html.index('id="back"')
    for words in (
        "Gall at girth line, left, first seen 14 May 2026.",
        "Two failed recovery tests within a year.",
    ):
        assert words in html


def test_every_long_ride_has_its_result(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    horse = visit_horse.horse
    make_ride_test(horse, NOON - timedelta(days=9), (1, 1), (3, 3), (3, 3), (3, 2))
    make_ride_test(horse, NOON - timedelta(days=40), (0, 0), (1, 0), (1, 0), (0, 0))
    html = page(signed_in(fitter), horse)
    assert ">Failed</span>" in html
    assert ">Passed</span>" in html


def test_a_verdict_says_until_when_it_holds(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    for days, words in ((0, "Holds until"), (170, "Runs out"), (200, "Ran out")):
        with time_machine.travel(NOON + timedelta(days=days), tick=False):
            assert f"{words} 12 Nov 2026" in page(signed_in(fitter), visit_horse.horse)


def test_poor_measurings_stay_out_of_the_charts_unless_asked_for(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    horse = visit_horse.horse
    make_measurement(horse, measured_on=DAY - timedelta(days=30), stood_square=False)
    client = signed_in(fitter)
    assert "(not standing square)" not in _chart_part(page(client, horse))
    assert "2026-04-14 (not standing square)" in _chart_part(page(client, horse, "?all=1"))


def _chart_part(html: str) -> str:
    return html[html.index('class="charts"') : html.index('id="rides"')]


def test_charts_have_what_was_felt_measured_and_computed(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    html = page(signed_in(fitter), visit_horse.horse)
    for part in (
        "soreness",
        "widths-15",
        "widths-3",
        "angles",
        "evenness",
        "body",
        "fit-history-1",
    ):
        assert f'id="{part}-figure"' in html


def test_the_riders_weight_is_not_on_the_page(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    html = page(signed_in(fitter), visit_horse.horse)
    for words in ("180 lb", "81.6", "82 kg"):
        assert words not in html


def test_changes_name_what_is_new(fitter: User) -> None:
    horse, saddle = make_horse(), make_saddle(tag="SD-02")
    felt, wool = make_pad(name="Felt"), make_pad(name="Wool")
    first = date(2026, 1, 10)
    make_pairing(
        horse, saddle=saddle, pad=felt, from_date=first, to_date=first + timedelta(days=20)
    )
    second = first + timedelta(days=20)
    make_pairing(
        horse, saddle=saddle, pad=wool, from_date=second, to_date=second + timedelta(days=20)
    )
    third = second + timedelta(days=20)
    make_pairing(horse, saddle=saddle, pad=wool, from_date=third, shim_front_right_mm=6)
    other = make_saddle(tag="SD-03")
    rider, next_day = make_rider(), third + timedelta(days=1)
    same = {"saddle": other, "pad": wool}
    make_pairing(horse, **same, rider=rider, from_date=third, to_date=third)
    make_pairing(horse, **same, rider=rider, from_date=next_day, to_date=next_day)
    make_pairing(horse, **same, rider=make_rider(), from_date=next_day, to_date=next_day)
    changes = changes_in(pairings_through_time(horse))
    assert [(c.day, c.words) for c in changes] == [
        (first, "SD-02"),
        (second, "SD-02: Wool"),
        (third, "SD-02: shims"),
        (third, "SD-03"),
        (next_day, "SD-03: adjusted"),
        (next_day, "SD-03: rider"),
    ]


def test_who_sees_the_page(
    visit_horse: VisitHorse, reader: User, stranger: User, signed_in: SignIn
) -> None:
    url = reverse("horse_detail", args=[visit_horse.horse_id])
    assert signed_in(reader).get(url).status_code == 200
    assert signed_in(stranger).get(url).status_code == 404
    assert Client().get(url).status_code == 302
    assert signed_in(reader).get(reverse("horse_detail", args=[0])).status_code == 404


def _grow(horse: Horse, fitter: User, year: int) -> None:
    """Add a year of visits, checks, measurings, saddles, verdicts, rides and fits."""
    for month in range(1, 5):
        when = NOON.replace(year=year, month=month)
        visit = make_visit([horse], fitter=fitter, starts_at=when)
        measurement = make_measurement(horse, visit=visit, measured_on=when.date())
        make_soreness_check(horse, {("BS", "L"): 2}, visit=visit, checked_at=when)
        pairing = make_pairing(horse, from_date=when.date(), to_date=when.date())
        make_verdict(pairing, visit, fitter)
        make_evaluation(pairing, measurement, visit=visit)
        make_ride_test(horse, when + timedelta(days=3), (0, 0), (0, 0), (0, 0), (0, 0))


def _queries(client: Client, url: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as queries:
        assert client.get(url).status_code == 200
    return len(queries)


def test_pages_ask_no_more_of_the_database_as_the_years_go_by(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    client, horse = signed_in(fitter), visit_horse.horse
    urls = (
        reverse("horse_detail", args=[horse.pk]),
        reverse("report_preview", args=[visit_horse.visit_id, horse.pk]),
    )
    _grow(horse, fitter, 2024)
    few = [_queries(client, url) for url in urls]
    _grow(horse, fitter, 2025)
    assert [_queries(client, url) for url in urls] == few
    assert max(few) < 35


def test_practice_in_metric_units_draws_centimetres(fitter: User, signed_in: SignIn) -> None:
    make_practice(units="metric", time_zone="UTC")
    horse = make_horse()
    make_measurement(horse)
    html = page(signed_in(fitter), horse)
    assert "Half-width of the back 15 cm below the midline, cm" in html
    assert "Weight, kg" in html
