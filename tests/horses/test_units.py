"""Reading and showing values, against definitions from outside the project.

Sources: the inch and pound of the international yard and pound agreement (1959), as
`scipy.constants` carries them; 1 stone = 14 lb (UK weight, scipy.constants as well); 1 hand = 4 in
and the digit after the dot in inches (general horse-height practice, seen on public pages).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from horses import units

EXACT = 1e-9  # relative; the factors are exact, only rounding of doubles remains


def close(found: float, expected: float) -> bool:
    return abs(found - expected) <= EXACT * max(1.0, abs(expected))


@pytest.mark.parametrize(
    ("ours", "reference"),
    [
        (units.MM_PER_INCH, constants.inch * 1000),
        (units.LENGTH_MM["ft"], constants.foot * 1000),
        (units.KG_PER_POUND, constants.pound),
        (units.MASS_KG["st"], constants.stone),
    ],
)
def test_factors_are_those_of_the_reference_library(ours: float, reference: float) -> None:
    assert close(ours, reference)


def test_a_rounded_factor_would_be_noticed() -> None:
    assert not close(0.4536, constants.pound)
    assert not close(25.0, constants.inch * 1000)


@pytest.mark.parametrize(
    ("typed", "inches"),
    [
        ("15.2", 62),
        ("15.2hh", 62),
        ("15.2 hands", 62),
        ("15-2", 62),
        ("15.1 1/2", 61.5),
        ("15.1½", 61.5),
        ("14.2", 58),
        ("16", 64),
        ("62 in", 62),
        ('62"', 62),
    ],
)
def test_hands_are_hands_and_inches(typed: str, inches: float) -> None:
    assert close(units.read_hands_mm(typed), inches * constants.inch * 1000)


def test_hands_read_as_a_decimal_would_be_noticed() -> None:
    # 15.2 times 4 in is 60.8 in, the usual mistake.
    assert not close(units.read_hands_mm("15.2"), 15.2 * 4 * constants.inch * 1000)


def test_hands_in_centimetres_as_published() -> None:
    # 15.2 hands = 157.5 cm and 15.1 1/2 = 156.2 cm on general horse-height pages, to 1 mm.
    assert units.read_hands_mm("15.2") == pytest.approx(1575, abs=0.5)
    assert units.read_hands_mm("15.1 1/2") == pytest.approx(1562, abs=0.5)


@pytest.mark.parametrize(("typed", "mm"), [("157 cm", 1570), ("1.57 m", 1570), ("1570 mm", 1570)])
def test_heights_may_be_metric(typed: str, mm: float) -> None:
    assert close(units.read_hands_mm(typed), mm)


@pytest.mark.parametrize("typed", ["15.4", "15.5", "15.9", "15.10", "15.25", "15.4 hh", "15-4"])
def test_four_inches_are_the_next_hand(typed: str) -> None:
    with pytest.raises(units.CannotRead, match="after the dot only 0, 1, 2 or 3"):
        units.read_hands_mm(typed)


@pytest.mark.parametrize("typed", ["", "tall", "15.2.1", "hh", "15,2,3 kg", "200 lb"])
def test_what_is_no_height_is_refused(typed: str) -> None:
    with pytest.raises(units.CannotRead):
        units.read_hands_mm(typed)


@given(st.integers(min_value=24 * 4, max_value=84 * 4))
def test_a_shown_height_reads_back_as_itself(quarter_inches: int) -> None:
    mm = quarter_inches / 4 * units.MM_PER_INCH
    assert units.read_hands_mm(units.show_hands(mm)) == pytest.approx(mm, abs=1e-6)


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("6", 6),
        ("6.5", 6.5),
        ("6,5", 6.5),
        ("6 1/2", 6.5),
        ("6-1/2", 6.5),
        ("1/2", 0.5),
        ("4 1/8", 4.125),
        ("6½", 6.5),
        ("-3", -3),
        ("−3", -3),
    ],
)
def test_fractions_as_on_a_tape(typed: str, number: float) -> None:
    assert units.read_number(typed) == number


@pytest.mark.parametrize("typed", ["six", "1/0", "", "6 1/", "1..5", "--3"])
def test_what_is_no_number_is_refused(typed: str) -> None:
    with pytest.raises(units.CannotRead):
        units.read_number(typed)


@pytest.mark.parametrize(
    ("typed", "default", "mm"),
    [
        ("6 1/2", "in", 165.1),
        ("6 1/2 in", "cm", 165.1),
        ("16.5 cm", "in", 165),
        ("16.5", "cm", 165),
        ("16", "mm", 16),
        ("3/4 in", "mm", 19.05),
        ("5 ft 8 in", "in", 68 * 25.4),
        ("5' 8\"", "cm", 68 * 25.4),
        ("5 ft", "in", 60 * 25.4),
        ("1.73 m", "in", 1730),
    ],
)
def test_lengths_in_any_unit(typed: str, default: str, mm: float) -> None:
    assert close(units.read_length_mm(typed, default_unit=default), mm)


@pytest.mark.parametrize(
    ("typed", "default", "pounds"),
    [
        ("180", "lb", 180),
        ("180 lb", "kg", 180),
        ("12 st 4 lb", "kg", 172),
        ("12st 4", "lb", 172),
        ("12 stone", "kg", 168),
        ("78 kg", "lb", 78 / constants.pound),
    ],
)
def test_weights_in_pounds_kilograms_and_stone(typed: str, default: str, pounds: float) -> None:
    assert close(units.read_mass_kg(typed, default_unit=default), pounds * constants.pound)


@pytest.mark.parametrize("typed", ["180 in", "12 st 4 in", "5 ft 8 lb", "80 cm"])
def test_a_length_is_no_weight(typed: str) -> None:
    with pytest.raises(units.CannotRead):
        units.read_mass_kg(typed, default_unit="lb")


@pytest.mark.parametrize(("typed", "celsius"), [("18", 18), ("64.4 F", 18), ("-10 C", -10)])
def test_temperatures(typed: str, celsius: float) -> None:
    assert units.read_celsius(typed) == pytest.approx(celsius, abs=1e-9)


def test_fahrenheit_is_that_of_the_reference_library() -> None:
    reference = float(constants.convert_temperature(-40.0, "F", "C"))
    assert units.read_celsius("-40 F") == pytest.approx(reference, abs=1e-9)
    assert units.read_celsius("50 F") == pytest.approx(
        float(constants.convert_temperature(50.0, "F", "C")), abs=1e-9
    )


def test_angles_take_degrees_only() -> None:
    assert units.read_degrees("43.5°") == 43.5
    with pytest.raises(units.CannotRead):
        units.read_degrees("43 in")


@given(st.integers(min_value=1, max_value=800))
def test_a_shown_length_reads_back_as_itself(eighths: int) -> None:
    mm = eighths / 8 * units.MM_PER_INCH
    shown = units.show_length(mm, imperial=True)
    assert units.read_length_mm(shown, default_unit="cm") == pytest.approx(mm, abs=1e-6)


def test_lengths_and_weights_are_shown_in_the_practices_units() -> None:
    assert units.show_length(165.1, imperial=True) == "6 1/2 in"
    assert units.show_length(165.1, imperial=False) == "16.5 cm"
    assert units.show_length(16.2, imperial=True, small=True) == "16 mm"
    assert units.show_mass(81.6466, imperial=True) == "180 lb"
    assert units.show_mass(81.6466, imperial=False) == "82 kg"
    assert units.show_hands(1574.8) == "15.2 hh"
