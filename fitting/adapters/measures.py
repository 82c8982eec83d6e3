"""The engine's measures as flat numbers for lists and trends, and how each is shown.

Keys are "<case>.<measure>[.<zone>][.<side>]" with "shape" for what depends on no load; values stay
in the engine's SI units.
"""

import math
from collections.abc import Iterator

from fitting.engine import FitResult, Measure
from horses.charts.theme import INCHES, LengthUnit
from horses.units import show_length

SHAPE = "shape"
SIDE_WORDS = {"left": "left (near)", "right": "right (off)"}
# How an SI value is shown: factor, unit, decimals.
SHOWN = {
    "m": (1e3, "mm", 0),
    "m2": (1e4, "cm²", 0),
    "Pa": (1e-3, "kPa", 1),
    "rad": (180 / math.pi, "°", 1),
    "1": (1e2, "%", 0),
    "N": (1.0, "N", 0),
}
FINE = 0.010  # [m] below which tenths of a millimetre tell a value from its limit


def key_of(case: str, measure: Measure) -> str:
    parts = (case or SHAPE, measure.code, measure.zone, measure.side)
    return ".".join(part for part in parts if part)


def _every(result: FitResult) -> Iterator[tuple[str, Measure]]:
    for measure in result.measures:
        yield SHAPE, measure
    for case in result.cases:
        for measure in case.measures:
            yield case.name, measure


def flat_measures(result: FitResult) -> dict[str, float]:
    """Return every finite measure of a result by its key."""
    return {
        key_of(case, measure): measure.value
        for case, measure in _every(result)
        if math.isfinite(measure.value)
    }


def shown(value: float | None, unit: str, long: LengthUnit | None = None) -> str:
    """Return an SI value in the unit a fitter reads, with that unit; a dash for nothing.

    Lengths are in mm unless `long` gives the practice's unit for distances along the back.
    """
    if value is None or not math.isfinite(value):
        return "–"
    if unit == "m" and long is not None:
        return show_length(value * 1e3, imperial=long is INCHES)
    factor, name, decimals = SHOWN[unit]
    if unit == "m" and 0 < abs(value) < FINE:
        decimals = 1
    text = f"{value * factor:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")  # "-0 mm" says nothing
    return f"{text}{name}" if name == "°" else f"{text} {name}"
