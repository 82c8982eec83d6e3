"""What changed in a back between two days, number by number, beside the error of measuring.

A change within the error is no change. Errors of derived numbers follow from that of the
half-widths by linear propagation, taking the two widths of a number as independent.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import degrees, hypot, radians, sqrt, tan
from typing import Literal

from horses.measuring_error import MeasuringError
from horses.seasons import BackPoint, SectionNumbers

SLOPE_SPAN_MM = 80.0  # a slope is read over this much of the section
Word = Literal["more", "less", "within error", "not compared"]


@dataclass(frozen=True)
class NumberChange:
    """One number then and now; `error` is that of the change, in the same unit.

    Units are "mm", "deg" or "" for a ratio. A number taken on one day only has no change.
    """

    what: str
    where: str
    side: str
    unit: str
    then: float | None
    now: float | None
    error: float

    @property
    def change(self) -> float | None:
        return None if self.then is None or self.now is None else self.now - self.then

    @property
    def word(self) -> Word:
        if self.change is None:
            return "not compared"
        if abs(self.change) <= self.error:
            return "within error"
        return "more" if self.change > 0 else "less"


@dataclass(frozen=True)
class Hollows:
    """The hollow behind each blade [mm]."""

    left_mm: float | None
    right_mm: float | None


def number_changes(
    then: BackPoint,
    now: BackPoint,
    hollows: tuple[Hollows, Hollows],
    stations: Mapping[str, str],
    error: MeasuringError,
) -> list[NumberChange]:
    """Return every number that either day has, station by station, then the lengthwise ones."""
    rows: list[NumberChange] = []
    for station, words in stations.items():
        rows += _station(then, now, station, words, error)
    rows += _lengthwise(then, now, error)
    for side, name in (("L", "left_mm"), ("R", "right_mm")):
        pair = (getattr(hollows[0], name), getattr(hollows[1], name))
        rows.append(NumberChange("Hollow", "behind the blade", side, "mm", *pair, error.hollow_mm))
    return [row for row in rows if row.then is not None or row.now is not None]


def _station(
    then: BackPoint, now: BackPoint, station: str, words: str, error: MeasuringError
) -> Iterator[NumberChange]:
    width_error = error.half_width_mm
    for side in "LR":
        was, is_now = (_numbers(point, station, side) for point in (then, now))
        for what, name in (("Half-width 3 cm down", "w3_mm"), ("Half-width 15 cm down", "w15_mm")):
            pair = (getattr(was, name), getattr(is_now, name))
            yield NumberChange(what, words, side, "mm", *pair, width_error)
        ratios, ratio_error = (was.ratio, is_now.ratio), _ratio_error(was, width_error)
        yield NumberChange("Ratio 3 to 15 cm", words, side, "", *ratios, ratio_error)
    angles = (then.included_angle(station), now.included_angle(station))
    angle_error = _angle_error(angles, width_error)
    yield NumberChange("Included angle", words, "", "deg", *angles, angle_error)
    uneven = (then.left_less_right(station), now.left_less_right(station))
    yield NumberChange("Left less right", words, "", "mm", *uneven, sqrt(2) * width_error)


def _lengthwise(then: BackPoint, now: BackPoint, error: MeasuringError) -> Iterator[NumberChange]:
    for side in "LRM":
        pair = (then.rock_mm.get(side), now.rock_mm.get(side))
        yield NumberChange("Dip under 17 in", "along the back", side, "mm", *pair, error.dip_mm)
    for side in "LR":
        twists = (then.twist(side), now.twist(side))
        each = _slope_error(25.0, error.half_width_mm)
        yield NumberChange("Twist, front less rear", "along the back", side, "deg", *twists, each)


def _numbers(point: BackPoint, station: str, side: str) -> SectionNumbers:
    return point.sections.get((station, side)) or SectionNumbers(None, None, None)


def _ratio_error(numbers: SectionNumbers, width_error: float) -> float:
    """w3 / w15, each with the width's error."""
    if numbers.ratio is None or not numbers.w15_mm:
        return 0.0
    return width_error * hypot(1.0, numbers.ratio) / numbers.w15_mm


def _slope_error(slope_deg: float, width_error: float) -> float:
    """Error of a slope [deg] whose two ends are each off sideways by the width's error."""
    rise = tan(radians(slope_deg))
    return degrees(rise * sqrt(2) * width_error / SLOPE_SPAN_MM / (1 + rise * rise))


def _angle_error(angles: tuple[float | None, float | None], width_error: float) -> float:
    known = [angle for angle in angles if angle is not None]
    if not known:
        return 0.0
    return sqrt(2) * _slope_error((180 - known[0]) / 2, width_error)


def error_across(slope: float, error: MeasuringError, least_mm: float) -> float:
    """Return the error of a change across the surface [mm] where it falls away with `slope` [-].

    A curve that was laid on a little to the side errs across a steep flank and hardly on top,
    where `least_mm` of the tracing itself is left. (The error of a half-width holds the tracing's
    already, so the two are not added: a width that changed beyond its error stands out here too.)
    """
    return max(least_mm, error.half_width_mm * slope / sqrt(1 + slope * slope))
