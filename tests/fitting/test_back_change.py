"""Two days of one back: the map finds what was put there, and calls the rest error."""

from collections.abc import Callable
from datetime import date
from math import atan2, cos, sin

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from fitting.adapters.back_change import TRACING_MM, back_change
from horses.change import Hollows, error_across, number_changes
from horses.measuring_error import MeasuringError
from horses.models import BackMeasurement, Horse
from horses.seasons import BackPoint, SectionNumbers
from practice.models import User
from tests.factories import make_horse, make_measurement, make_practice

SignIn = Callable[[User], Client]
ERROR = MeasuringError(half_width_mm=4.0, dip_mm=3.0, hollow_mm=3.0)
THEN, NOW = date(2026, 1, 10), date(2026, 5, 10)
STATIONS = {f"S{i}": f"S{i}" for i in range(1, 6)}


def widened(measurement: BackMeasurement, factor: float, side: str = "L") -> BackMeasurement:
    """Make the half-widths of one side wider by a factor: muscle beside an unchanged spine."""
    for section in measurement.sections.filter(side=side):
        section.points = [[depth, width * factor] for depth, width in section.points]
        section.save()
    return BackMeasurement.objects.get(pk=measurement.pk)


@pytest.fixture
def horse() -> Horse:
    return make_horse()


def two(horse: Horse, factor: float = 1.0) -> tuple[BackMeasurement, BackMeasurement]:
    then = make_measurement(horse, measured_on=THEN)
    return then, widened(make_measurement(horse, measured_on=NOW), factor)


# The map ----------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_an_unchanged_back_is_all_within_error(horse: Horse) -> None:
    found = back_change(*two(horse), ERROR)
    assert found is not None
    change = found.map.change_mm
    assert np.nanmax(np.abs(change)) < 1e-9
    assert np.isfinite(change).any()
    assert (found.left.rose, found.left.fell, found.right.rose) == (0.0, 0.0, 0.0)


@pytest.mark.django_db
def test_gain_on_one_side_is_found_there_and_of_the_right_size(horse: Horse) -> None:
    """A flank moved outward by 10 % rises, across the surface, by what plane geometry says."""
    then, now = two(horse, 1.10)
    found = back_change(then, now, ERROR)
    assert found is not None
    assert found.left.rose > 0.5
    assert (found.left.fell, found.right.rose, found.right.fell) == (0.0, 0.0, 0.0)
    expected = _rise_mm(then, y_mm=100.0, factor=1.10)
    i = np.argmin(np.abs(found.map.x_mm - 241.3))
    j = np.argmin(np.abs(found.map.y_mm - 100.0))
    assert found.map.change_mm[0, i, j] == pytest.approx(expected, abs=0.8)
    assert found.map.change_mm[0, i, j] != pytest.approx(0.5 * expected, abs=0.8)


def _rise_mm(measurement: BackMeasurement, *, y_mm: float, factor: float) -> float:
    """Rise across the surface at S3, from the power curve the sections are made with."""
    points = next(
        s.points
        for s in measurement.sections.all()
        if (s.station, s.side, s.trace) == ("S3", "L", 1)
    )
    other = next(
        s.points
        for s in measurement.sections.all()
        if (s.station, s.side, s.trace) == ("S3", "L", 2)
    )
    (_, w30), (_, w150) = (
        [p[0], (p[1] + q[1]) / 2]
        for p, q in zip(points, other, strict=True)
        if p[0] in (30.0, 150.0)
    )
    power = np.log(5) / np.log(w150 / w30)
    depth = 30 * (y_mm / w30) ** power
    slope = power * depth / y_mm
    lower = 30 * (y_mm / factor / w30) ** power
    return float((depth - lower) * cos(atan2(slope, 1)))


@pytest.mark.django_db
def test_loss_is_the_gain_the_other_way_round(horse: Horse) -> None:
    then, now = two(horse, 1.10)
    forward, backward = back_change(then, now, ERROR), back_change(now, then, ERROR)
    assert forward is not None
    assert backward is not None
    assert backward.left.fell > 0.5
    assert backward.left.mean_mm == pytest.approx(-forward.left.mean_mm, rel=0.1)


@pytest.mark.django_db
def test_a_small_change_is_grey_and_a_better_hand_sees_it(horse: Horse) -> None:
    then, now = two(horse, 1.02)
    coarse, fine = (
        back_change(then, now, ERROR),
        back_change(then, now, MeasuringError(half_width_mm=0.5)),
    )
    assert coarse is not None
    assert fine is not None
    assert coarse.left.rose == 0.0
    assert np.nanmean(coarse.map.change_mm[0]) > 0.5
    assert coarse.map.within_error[0][np.isfinite(coarse.map.change_mm[0])].all()
    assert np.nanmax(fine.map.change_mm[0]) > TRACING_MM
    assert fine.left.rose > 0


@pytest.mark.django_db
def test_what_one_day_did_not_trace_is_not_compared(horse: Horse) -> None:
    then, now = two(horse, 1.10)
    for section in now.sections.filter(side="L"):
        section.points = [p for p in section.points if p[0] <= 80]
        section.save()
    now = BackMeasurement.objects.get(pk=now.pk)
    found, whole = back_change(then, now, ERROR), back_change(then, then, ERROR)
    assert found is not None
    assert whole is not None
    assert np.isfinite(found.map.change_mm[0]).sum() < np.isfinite(whole.map.change_mm[0]).sum()
    assert np.isfinite(found.map.change_mm[1]).sum() == np.isfinite(whole.map.change_mm[1]).sum()
    now.sections.filter(station="S3").delete()
    assert back_change(then, BackMeasurement.objects.get(pk=now.pk), ERROR) is None


def test_error_across_the_surface_is_the_sideways_error_seen_on_the_slope() -> None:
    assert error_across(0.0, ERROR, 2.0) == 2.0
    for slope in (0.3, 1.0, 3.0):
        expected = max(2.0, 4.0 * sin(atan2(slope, 1)))
        assert error_across(slope, ERROR, 2.0) == pytest.approx(expected)
    assert error_across(1e9, ERROR, 0.0) == pytest.approx(4.0)


# The numbers ------------------------------------------------------------------------------------


def point(day: date, w15: float, slope: float = 35.0) -> BackPoint:
    sides = {("S1", side): SectionNumbers(60.0, w15, slope) for side in "LR"}
    return BackPoint(day, sides, {"L": 18.0})


def test_numbers_say_more_less_or_within_error() -> None:
    none = (Hollows(None, None), Hollows(5.0, None))
    rows = number_changes(point(THEN, 150), point(NOW, 155), none, {"S1": "S1"}, ERROR)
    said = {(row.what, row.side): row.word for row in rows}
    assert said["Half-width 15 cm down", "L"] == "more"
    assert said["Half-width 3 cm down", "L"] == "within error"
    assert said["Hollow", "L"] == "not compared"
    assert ("Hollow", "R") not in said
    back = number_changes(point(NOW, 155), point(THEN, 150), none, {"S1": "S1"}, ERROR)
    assert {(r.what, r.side): r.word for r in back}["Half-width 15 cm down", "L"] == "less"


def test_errors_of_ratio_and_angle_are_those_of_repeated_draws() -> None:
    """Against the spread of numbers recomputed from widths with random errors (Monte Carlo)."""
    rng = np.random.default_rng(2)
    sd = 1.0  # small, so that the propagation is linear
    rows = number_changes(
        point(THEN, 150),
        point(NOW, 150),
        (Hollows(None, None),) * 2,
        {"S1": "S1"},
        MeasuringError(half_width_mm=sd),
    )
    errors = {(row.what, row.side): row.error for row in rows}
    w3, w15 = 60 + sd * rng.normal(size=200_000), 150 + sd * rng.normal(size=200_000)
    assert errors["Ratio 3 to 15 cm", "L"] == pytest.approx(np.std(w3 / w15), rel=0.02)
    rise = np.tan(np.radians(35.0))
    ends = rng.normal(0, sd, (2, 2, 200_000)) * rise
    slopes = np.degrees(np.arctan(rise + (ends[:, 1] - ends[:, 0]) / 80.0))
    assert errors["Included angle", ""] == pytest.approx(np.std(slopes.sum(axis=0)), rel=0.02)
    assert errors["Included angle", ""] != pytest.approx(np.std(slopes[0]), rel=0.02)


# The page ---------------------------------------------------------------------------------------


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice(time_zone="UTC")
    return signed_in(fitter)


@pytest.mark.django_db
def test_page_shows_the_last_two_good_days_and_any_two_asked_for(
    page: Client, horse: Horse
) -> None:
    then, now = two(horse, 1.10)
    poor = make_measurement(horse, measured_on=date(2026, 6, 1), rested_hind_foot=True)
    url = reverse("back_change", args=(horse.pk,))
    context = page.get(url).context
    assert (context["then"], context["now"]) == (then, now)
    answer = page.get(url, {"then": poor.pk, "now": then.pk})
    assert (answer.context["then"], answer.context["now"]) == (then, poor)
    assert "a hind foot was rested" in answer.content.decode()


@pytest.mark.django_db
def test_page_and_file_name_the_change_with_its_error(page: Client, horse: Horse) -> None:
    two(horse, 1.10)
    url = reverse("back_change", args=(horse.pk,))
    text = page.get(url).content.decode()
    assert "Half-width 15 cm down" in text
    assert "veterinarian" in text
    lines = page.get(url, {"format": "csv"}).content.decode("utf-8-sig").splitlines()
    assert lines[0].startswith("What,Where,Side,Unit,Then,Now,Change,Error")
    assert any(line.endswith(",more") for line in lines)


@pytest.mark.django_db
def test_one_day_alone_says_what_is_needed(page: Client, horse: Horse) -> None:
    make_measurement(horse)
    answer = page.get(reverse("back_change", args=(horse.pk,)), {"then": "1", "now": "nonsense"})
    assert "One measuring so far" in answer.content.decode()
