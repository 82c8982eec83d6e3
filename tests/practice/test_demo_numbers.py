"""The demo's numbers hang together: the story's days, its curves and its tables."""

from datetime import date, timedelta

import pytest

from horses.models import DEPTHS_MM
from horses.units import KG_PER_POUND, MM_PER_INCH
from horses.weight import tape_mass_kg
from practice.demo import case_a, case_b, case_c, curves
from practice.demo.backs import Back
from practice.demo.calendar import LAST_DAY, Calendar
from practice.demo.curves import Section
from practice.demo.tack import TWO_BAR_TREES

DEGREE = 0.6  # the story's angles are whole degrees, some of them rounded twice


@pytest.mark.parametrize("days", range(0, 400, 13))
def test_story_ends_a_week_or_two_before_any_day(days: int) -> None:
    today = date(2025, 1, 1) + timedelta(days=days)
    calendar = Calendar(today)
    assert 7 <= (today - calendar.day(LAST_DAY)).days <= 13
    assert calendar.day(LAST_DAY).weekday() == LAST_DAY.weekday()


def test_spans_of_the_story_hold() -> None:
    calendar = Calendar(date(2031, 7, 4))
    first, last = case_a.DAYS["A1"], case_a.DAYS["A8"]
    assert calendar.day(last) - calendar.day(first) == last - first


def test_visit_keeps_its_hour_on_the_practices_clock_across_a_clock_change() -> None:
    calendar = Calendar(date(2026, 11, 25))
    hours = {calendar.moment(day).hour for day in case_a.DAYS.values()}
    assert hours == {9}


def _angles(back: Back) -> tuple[float, float, float]:
    return back.s1.included_deg, back.s3.included_deg, back.s5.included_deg


# Included angles of the tables, S1, S3, S5, in whole degrees.
ANGLES_A = {
    "A1": (90, 111, 122),
    "A2": (90, 111, 123),
    "A3": (91, 113, 124),
    "A4": (92, 113, 124),
    "A5": (91, 112, 124),
    "A6": (93, 114, 125),
    "A7": (93, 113, 124),
    "A8": (94, 114, 126),
}
S1_ANGLES_B = {"B1": 77, "B2": 78, "B3": 79, "B4": 81, "B5": 85, "B6": 85, "B7": 87, "B8": 89}


@pytest.mark.parametrize("name", ANGLES_A)
def test_curves_of_the_gelding_have_the_angles_of_his_table(name: str) -> None:
    assert _angles(case_a.BACKS[name]) == pytest.approx(ANGLES_A[name], abs=DEGREE)


@pytest.mark.parametrize("name", S1_ANGLES_B)
def test_curves_of_the_filly_have_the_angles_of_her_table(name: str) -> None:
    assert case_b.BACKS[name].s1.included_deg == pytest.approx(S1_ANGLES_B[name], abs=DEGREE)


@pytest.mark.parametrize("name", [name for name in case_c.HORSES if name != "ledger"])
def test_fronts_of_the_string_have_the_angles_of_the_table(name: str) -> None:
    spec = case_c.HORSES[name]
    assert spec.s1.included_deg == pytest.approx(spec.s1_deg, abs=1.0)


@pytest.mark.parametrize(("station", "angle"), [("S3", 101), ("S3", 112), ("S5", 115), ("S5", 132)])
def test_section_made_from_an_angle_has_that_angle(station: str, angle: float) -> None:
    assert Section.with_angle(station, angle).included_deg == pytest.approx(angle, abs=1e-6)


def test_a_wrong_formula_would_be_noticed() -> None:
    """The twin: the straight line from midline to the 15 cm point misses the table by degrees."""
    from math import atan, degrees

    width = case_a.BACKS["A1"].s1.left[1]
    assert abs(180 - 2 * degrees(atan(15 / width)) - 90) > 5


@pytest.mark.parametrize(
    ("girth", "length", "pounds"),
    [(73, 66, 1066), (74, 66, 1095), (68, 61, 855), (70, 63, 935), (79, 70, 1324), (74, 67, 1112)],
)
def test_weights_follow_the_tape_formula(girth: float, length: float, pounds: float) -> None:
    """lb = girth^2 x length / 330 in inches (Carroll and Huntington 1988, adult horses)."""
    mass = tape_mass_kg(girth_mm=girth * MM_PER_INCH, length_mm=length * MM_PER_INCH)
    assert mass / KG_PER_POUND == pytest.approx(pounds, abs=1)
    assert mass / KG_PER_POUND != pytest.approx(girth**2 * length / 300, abs=1)


def test_two_traces_differ_by_2_to_3_mm_and_mean_the_back_itself() -> None:
    widths = (7.0, 17.4)
    one, two = curves.two_traces(widths, 2.6)
    at_15_cm = DEPTHS_MM.index(150)
    assert two[at_15_cm][1] - one[at_15_cm][1] == pytest.approx(2.6, abs=0.2)
    mean = [(a[1] + b[1]) / 2 for a, b in zip(one, two, strict=True)]
    assert mean[DEPTHS_MM.index(30)] == pytest.approx(70, abs=0.1)
    assert mean[at_15_cm] == pytest.approx(174, abs=0.1)


def test_bar_line_dips_by_the_rock_over_17_inches() -> None:
    low = curves.LOWEST_MM
    ends = [curves.rock_height(18, low + half) for half in (-215.9, 215.9)]
    assert ends == pytest.approx([18, 18])
    assert curves.rock_height(18, low) == 0


def test_midline_lies_above_the_bar_line_by_the_depth_of_the_section() -> None:
    back = case_a.BACKS["A1"]
    stations = curves.five_sections(back.s1, back.s3, back.s5, end_mm=457.2)
    line = dict(map(tuple, curves.midline(stations, 18, 469.9)))
    x = min(line, key=lambda place: abs(place - stations["S3"][0]))
    depth = curves.depth_mm(back.s3.left, curves.BAR_LINE_MM)
    assert line[x] - curves.rock_height(18, x) == pytest.approx(depth, abs=1.5)


@pytest.mark.parametrize("tag", TWO_BAR_TREES)
def test_bars_lie_where_the_bar_line_was_measured(tag: str) -> None:
    """Off the midline: half the spread and half the bar's width on its slope (plane geometry)."""
    from math import cos, radians

    tree = TWO_BAR_TREES[tag]
    middle = tree["widths"][1] * MM_PER_INCH
    slope = radians((tree["slopes"][0] + tree["slopes"][2]) / 2)
    centre = tree["spread"] * MM_PER_INCH / 2 + middle / 2 * cos(slope)
    assert centre == pytest.approx(curves.BAR_LINE_MM, abs=25)
