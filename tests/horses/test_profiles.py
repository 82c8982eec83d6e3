"""Numbers drawn from stored profiles, against the formula the curves were made with."""

from math import atan, degrees, log

import pytest

from horses.adapters.profiles import back_point, sagitta_mm, section_numbers
from horses.seasons import BackPoint, SectionNumbers
from horses.weight import tape_mass_kg
from tests.factories import BACK, dipped_line, make_measurement, section_points


def slope_by_formula(y3: float, y15: float) -> float:
    """Slope at 100 mm off the midline of depth = 30 (y / y3)^p, differentiated by hand."""
    power = log(5) / log(y15 / y3)
    return degrees(atan(power * 30 * (100 / y3) ** power / 100))


def test_widths_are_those_of_the_curve() -> None:
    numbers = section_numbers(section_points(70.0, 174.0))
    assert numbers.w3_mm == pytest.approx(70.0, abs=0.05)  # step of the engine's width table
    assert numbers.w15_mm == pytest.approx(174.0, abs=0.05)
    assert numbers.ratio == pytest.approx(70 / 174, abs=1e-3)


@pytest.mark.parametrize("widths", [(70.0, 174.0), (91.0, 212.0), (56.0, 146.0), (108.0, 229.0)])
def test_slope_is_that_of_the_curve_the_points_came_from(widths: tuple[float, float]) -> None:
    # A cubic through nine points follows the power curve to well within a degree.
    found = section_numbers(section_points(*widths)).slope_deg
    assert found == pytest.approx(slope_by_formula(*widths), abs=1.0)


def test_a_wrong_width_would_be_noticed() -> None:
    found = section_numbers(section_points(70.0, 174.0)).slope_deg
    assert found != pytest.approx(slope_by_formula(70.0, 166.0), abs=1.0)


def test_included_angle_of_the_first_case_is_90_degrees() -> None:
    left, right = (section_numbers(section_points(*w)) for w in ((70, 174), (69, 173)))
    point = BackPoint(day=None, sections={("S1", "L"): left, ("S1", "R"): right})  # type: ignore[arg-type]
    assert point.included_angle("S1") == pytest.approx(90, abs=1.0)


def test_a_section_that_is_too_short_has_no_slope_and_no_lower_width() -> None:
    numbers = section_numbers([[0, 0], [10, 40], [30, 70], [50, 90]])
    assert numbers.w3_mm == pytest.approx(70, abs=0.1)
    assert numbers.w15_mm is None
    assert numbers.slope_deg is None


def test_a_malformed_section_gives_nothing_rather_than_an_error() -> None:
    assert section_numbers([[0, 0], [10, 40], [30, 20]]) == SectionNumbers(None, None, None)
    assert section_numbers([]) == SectionNumbers(None, None, None)


@pytest.mark.parametrize("dip", [3.0, 18.0])
def test_sagitta_of_a_parabola_is_its_dip(dip: float) -> None:
    assert sagitta_mm(dipped_line(dip)) == pytest.approx(dip, abs=0.2)


def test_a_line_shorter_than_the_straight_edge_has_no_sagitta() -> None:
    assert sagitta_mm(dipped_line(18, length_mm=400)) is None


@pytest.mark.django_db
def test_both_tracings_are_averaged_but_never_left_with_right() -> None:
    point = back_point(make_measurement())
    (left, _), (right, _) = BACK["S1"]
    assert point.sections["S1", "L"].w3_mm == pytest.approx(left + 0.5, abs=0.1)
    assert point.sections["S1", "R"].w3_mm == pytest.approx(right + 0.5, abs=0.1)
    assert point.left_less_right("S1") == pytest.approx(1.0, abs=0.1)
    assert point.rock_mm["L"] == pytest.approx(18, abs=0.3)
    assert point.rock_mm["M"] == pytest.approx(14, abs=0.3)


@pytest.mark.django_db
def test_poor_or_after_work_measuring_says_why() -> None:
    assert back_point(make_measurement()).problems == ()
    poor = back_point(make_measurement(stood_square=False, work="after"))
    assert poor.problems == ("not standing square", "taken after work")


def test_weight_by_tape_agrees_with_the_published_metric_formula() -> None:
    # Carroll and Huntington 1988: kg = girth^2 x length / 11900 (cm); worked 190 and 165 -> 500.5.
    # 11900 metric is 329.4 imperial, so /330 reads 0.2 % lower.
    assert tape_mass_kg(girth_mm=1900, length_mm=1650) == pytest.approx(500.5, rel=0.003)
    # Extension texts: girth 76 in, length 65 in -> 1137.7 lb = 516.1 kg.
    assert tape_mass_kg(girth_mm=76 * 25.4, length_mm=65 * 25.4) == pytest.approx(516.1, abs=0.1)


def test_the_plain_300_rule_would_be_noticed() -> None:
    assert tape_mass_kg(girth_mm=1900, length_mm=1650) * 330 / 300 != pytest.approx(
        500.5, rel=0.003
    )
