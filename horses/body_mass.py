"""Estimating what a horse weighs from heart girth and body length.

In inches and pounds: weight = girth^2 x length / divisor, with 330 for adults, 301 for yearlings and
280 for weanlings (extension texts, read at second hand). In centimetres and kilograms the adult
formula is the same as girth^2 x length / 11900 of Carroll CL and Huntington PJ (1988), Equine Vet J
20:41-45, r^2 = 0.90 on 372 horses: 11900 is 329.4 in pounds and inches.
"""

from horses.units import KG_PER_POUND, MM_PER_INCH

ADULT_DIVISOR = 330.0
YEARLING_DIVISOR = 301.0
WEANLING_DIVISOR = 280.0
SOURCE = "girth² × length / 330 (inches, pounds), adults"


def divisor_at(age_years: float | None) -> float:
    """Return the divisor for an age; an unknown age counts as adult."""
    if age_years is None or age_years >= 2:
        return ADULT_DIVISOR
    return YEARLING_DIVISOR if age_years >= 1 else WEANLING_DIVISOR


def mass_from_girth_kg(
    girth_mm: float | None, length_mm: float | None, age_years: float | None = None
) -> float | None:
    """Return the estimated mass in kg, None when a measure is missing."""
    if girth_mm is None or length_mm is None:
        return None
    girth_in, length_in = girth_mm / MM_PER_INCH, length_mm / MM_PER_INCH
    return girth_in**2 * length_in / divisor_at(age_years) * KG_PER_POUND
