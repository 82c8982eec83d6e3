"""A horse's weight from a tape, when there is no scale.

lb = girth^2 x length / 330 with inches, adult horses (extension texts). It is the same formula as
kg = girth^2 x length / 11900 with centimetres: C. L. Carroll and P. J. Huntington, Equine Vet J 20
(1988) 41-45, from 281 horses with girth and length (r^2 0.90); 11900 metric equals 329.4 imperial.
"""

from horses.units import KG_PER_POUND, MM_PER_INCH

DIVISOR_ADULT = 330.0


def tape_mass_kg(*, girth_mm: float, length_mm: float) -> float:
    """Return the weight [kg] from heart girth and body length, shoulder to buttock [mm]."""
    girth, length = girth_mm / MM_PER_INCH, length_mm / MM_PER_INCH
    return girth**2 * length / DIVISOR_ADULT * KG_PER_POUND
