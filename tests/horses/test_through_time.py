"""The film, the same month of each year, and how soon a growing back is to be seen again."""

import json
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from horses.charts.film import Frame, film_chart
from horses.charts.same_month import same_month_chart
from horses.charts.theme import CENTIMETRES
from horses.growth import growth_of, recheck_weeks
from horses.measuring_error import MeasuringError
from horses.seasons import BackPoint, SectionNumbers
from practice.models import User
from tests.factories import make_horse, make_measurement, make_practice, make_soreness_check

SignIn = Callable[[User], Client]
START = date(2025, 1, 15)
STATIONS = {"S1": "S1 front", "S3": "S3 middle"}
ERROR = MeasuringError(half_width_mm=4.0, dip_mm=3.0)


def frame(days: int, factor: float = 1.0, *, sides: str = "LR") -> Frame:
    half = [(factor * width, depth) for width, depth in ((0, 0), (60, 30), (110, 80), (150, 150))]
    return Frame(START + timedelta(days=days), {("S1", side): half for side in sides})


def point(days: int, w15: float | None, dip: float = 20.0) -> BackPoint:
    sections = {("S1", side): SectionNumbers(60.0, w15, 35.0) for side in "LR"}
    return BackPoint(START + timedelta(days=days), sections, {"L": dip, "R": dip})


# The film ---------------------------------------------------------------------------------------


def test_each_day_is_a_frame_and_the_first_stays_in_the_picture() -> None:
    film = film_chart([frame(0), frame(90, 1.1), frame(180, 1.2)], STATIONS, CENTIMETRES)
    assert film is not None
    figure = film.figure_json
    assert [each["name"] for each in figure["frames"]] == ["2025-01-15", "2025-04-15", "2025-07-14"]
    steps = figure["layout"]["sliders"][0]["steps"]
    assert [step["args"][0][0] for step in steps] == [each["name"] for each in figure["frames"]]
    first, moving = figure["data"][0], figure["frames"][2]["data"][0]
    assert min(first["x"]) == -15.0
    assert min(moving["x"]) == pytest.approx(-18.0)
    assert figure["frames"][0]["traces"] == [2, 3]


def test_a_half_not_traced_that_day_is_empty_and_not_the_day_before() -> None:
    film = film_chart([frame(0), frame(90, sides="L")], STATIONS, CENTIMETRES)
    assert film is not None
    left, right = film.figure_json["frames"][1]["data"]
    assert left["x"]
    assert right["x"] == []
    assert film.table_rows[0][3:5] == ("–", "–")


def test_one_day_is_no_film() -> None:
    assert film_chart([frame(0)], STATIONS, CENTIMETRES) is None


def test_ten_years_of_monthly_checks_stay_light() -> None:
    """A page is told by its weight: about what one photograph weighs."""
    frames = [frame(30 * i, 1 + 0.001 * i) for i in range(120)]
    film = film_chart(frames, STATIONS, CENTIMETRES)
    assert film is not None
    assert len(json.dumps(film.figure_json)) < 200_000


# The same month ---------------------------------------------------------------------------------


def test_years_lie_over_one_another_by_month() -> None:
    points = [point(0, 150.0), point(365, 156.0), point(120, 152.0)]
    made = same_month_chart(points, STATIONS, CENTIMETRES)
    assert made is not None
    by_year = {t["name"]: t for t in made.figure_json["data"] if t["xaxis"] == "x"}
    assert set(by_year) == {"2025", "2026"}
    assert by_year["2025"]["x"][0] == pytest.approx(by_year["2026"]["x"][0])
    january = made.table_rows[0]
    assert january[:3] == ("Jan", "15.0", "15.6")


def test_one_year_has_nothing_beside_it() -> None:
    assert same_month_chart([point(0, 150.0), point(90, 151.0)], STATIONS, CENTIMETRES) is None


# Growth -----------------------------------------------------------------------------------------


def growing(per_year: float, *, noise: float = 0.0, count: int = 8) -> list[BackPoint]:
    rng = np.random.default_rng(6)
    return [
        point(45 * i, 150 + per_year * 45 * i / 365.25 + noise * rng.normal()) for i in range(count)
    ]


def test_growth_is_found_with_the_weeks_in_which_it_passes_the_error() -> None:
    rows = growth_of(growing(26.0), STATIONS, ERROR)
    row = rows[0]
    assert row.per_year_mm == pytest.approx(26.0)
    assert row.low_mm <= row.per_year_mm <= row.high_mm
    assert row.weeks == pytest.approx(4.0 / 26.0 * 365.25 / 7)
    fast = growth_of(growing(60.0), STATIONS, ERROR)
    assert recheck_weeks(fast, is_young=True) == 8.0  # never sooner
    assert recheck_weeks(growth_of(growing(19.0), STATIONS, ERROR), is_young=True) == (
        pytest.approx(4.0 / 19.0 * 365.25 / 7)
    )


def test_a_better_hand_sees_growth_sooner() -> None:
    points = growing(10.0)
    fine = growth_of(points, STATIONS, MeasuringError(half_width_mm=1.0))
    coarse = growth_of(points, STATIONS, ERROR)
    assert fine[0].weeks == pytest.approx((coarse[0].weeks or 0) / 4)


def test_noise_is_no_growth_and_sets_no_interval() -> None:
    rows = growth_of(growing(0.0, noise=2.0), STATIONS, ERROR)
    assert rows
    assert all(row.weeks is None for row in rows)
    assert recheck_weeks(rows, is_young=True) is None


def test_a_slow_back_is_not_left_longer_than_the_trade_does() -> None:
    rows = growth_of(growing(1.0), STATIONS, ERROR)
    assert recheck_weeks(rows, is_young=True) == 12.0
    assert recheck_weeks(rows, is_young=False) == 26.0


def test_four_days_are_too_few() -> None:
    assert growth_of(growing(20.0, count=4), STATIONS, ERROR) == []


# The page ---------------------------------------------------------------------------------------


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice(time_zone="UTC")
    return signed_in(fitter)


@pytest.mark.django_db
def test_doubtful_days_stay_out_unless_asked_for(page: Client) -> None:
    horse = make_horse()
    for days in (0, 100, 400):
        make_measurement(horse, measured_on=START + timedelta(days=days))
    make_measurement(horse, measured_on=START + timedelta(days=50), rested_hind_foot=True)
    make_measurement(horse, measured_on=START + timedelta(days=60), work="after")
    make_soreness_check(horse)
    url = reverse("through_time", args=(horse.pk,))
    shown, everything = page.get(url), page.get(url, {"all": "1"})
    assert "2 doubtful measurings left out" in shown.content.decode()
    assert len(shown.context["film"].figure_json["frames"]) == 3
    assert len(everything.context["film"].figure_json["frames"]) == 5
    lines = page.get(url, {"format": "csv"}).content.decode("utf-8-sig").splitlines()
    assert len(lines) == 1 + 3 * 10


@pytest.mark.django_db
def test_a_new_horse_is_told_what_is_needed(page: Client) -> None:
    text = page.get(reverse("through_time", args=(make_horse().pk,))).content.decode()
    assert "The film needs two days" in text
    assert "Not felt over yet" in text


@pytest.mark.django_db
def test_more_years_ask_no_more_of_the_database(page: Client) -> None:
    horse, counts = make_horse(), []
    url = reverse("through_time", args=(horse.pk,))
    for year in range(2):
        for month in range(3):
            make_measurement(horse, measured_on=START + timedelta(days=365 * year + 30 * month))
            make_soreness_check(horse)
        with CaptureQueriesContext(connection) as caught:
            page.get(url)
        counts.append(len(caught))
    assert counts[0] == counts[1]
