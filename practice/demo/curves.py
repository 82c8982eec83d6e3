"""Whole sections and lines of a back from the few numbers the story gives.

One formula makes every cross-section: depth = 3 (y / y3)^p cm with p = ln 5 / ln(y15 / y3), where
y3 and y15 are the half-widths 3 and 15 cm below the midline. Lengthwise the back is a parabola.
"""

import itertools
import math
import random
from dataclasses import dataclass

from horses.models import DEPTHS_MM, STATION_DISTANCE_MM

Widths = tuple[float, float]  # half-width [cm] 3 cm and 15 cm down
Points = list[list[float]]

BAR_LINE_MM = 100.0  # about 4 in off the midline, where a bar with a 4 in spread has its centre
ROCK_CHORD_MM = 431.8  # 17 in
LOWEST_MM = STATION_DISTANCE_MM["S3"]
LINE_STEP_MM = 47.0
POWERS = {"S3": 1.90, "S5": 2.14}  # of the first horse's sections, used where only angles are given
BAND_CM = 10.0  # where the included angle is read


@dataclass(frozen=True)
class Section:
    """One cross-section: left and right, never mirrored."""

    left: Widths
    right: Widths

    @classmethod
    def even(cls, width_3: float, width_15: float) -> "Section":
        return cls((width_3, width_15), (width_3, width_15))

    @classmethod
    def with_angle(cls, station: str, included_deg: float) -> "Section":
        """Return an even section with this included angle 10 cm off the midline.

        From d' = 3 p y^(p-1) / y3^p at y = 10 cm and d' = tan((180 - angle) / 2).
        """
        power = POWERS[station]
        slope = math.tan(math.radians((180 - included_deg) / 2))
        width_3 = (3 * power * BAND_CM ** (power - 1) / slope) ** (1 / power)
        return cls.even(width_3, width_3 * 5 ** (1 / power))

    def side(self, name: str) -> Widths:
        return self.left if name == "L" else self.right

    @property
    def included_deg(self) -> float:
        return 180 - slope_deg(self.left) - slope_deg(self.right)


def power_of(widths: Widths) -> float:
    return math.log(5) / math.log(widths[1] / widths[0])


def slope_deg(widths: Widths) -> float:
    """Return the slope of the back 10 cm off the midline."""
    power = power_of(widths)
    return math.degrees(math.atan(3 * power / widths[0] * (BAND_CM / widths[0]) ** (power - 1)))


def half_width_mm(widths: Widths, depth_mm: float) -> float:
    if depth_mm == 0:
        return 0.0
    return float(10 * widths[0] * (depth_mm / 30) ** (1 / power_of(widths)))


def depth_mm(widths: Widths, half_width: float) -> float:
    return float(30 * (half_width / (10 * widths[0])) ** power_of(widths))


def _blend(one: Widths, other: Widths, share: float) -> Widths:
    return (
        one[0] + (other[0] - one[0]) * share,
        one[1] + (other[1] - one[1]) * share,
    )


def _between(one: Section, other: Section, share: float) -> Section:
    return Section(_blend(one.left, other.left, share), _blend(one.right, other.right, share))


def five_sections(
    s1: Section, s3: Section, s5: Section, *, end_mm: float
) -> dict[str, tuple[float, Section]]:
    """Return distance behind the blade [mm] and section per station; S2 and S4 lie between."""
    at = {**STATION_DISTANCE_MM, "S5": end_mm}

    def share(low: str, mid: str, high: str) -> float:
        return (at[mid] - at[low]) / (at[high] - at[low])

    sections = {
        "S1": s1,
        "S2": _between(s1, s3, share("S1", "S2", "S3")),
        "S3": s3,
        "S4": _between(s3, s5, share("S3", "S4", "S5")),
        "S5": s5,
    }
    return {name: (at[name], section) for name, section in sections.items()}


def two_traces(widths: Widths, repeat_mm: float) -> tuple[Points, Points]:
    """Return the curve laid on twice: `repeat_mm` apart 15 cm down, their mean the back itself."""

    def trace(off: float) -> Points:
        factor = 1 + off / (10 * widths[1])
        return [[float(d), round(half_width_mm(widths, d) * factor, 1)] for d in DEPTHS_MM]

    return trace(-repeat_mm / 2), trace(repeat_mm / 2)


def repeat_difference(chance: random.Random) -> float:
    """Return how far apart two tracings of one section come out: 2 to 3 mm."""
    return chance.uniform(2.0, 3.0)


def _places(length_mm: float) -> list[float]:
    steps = round(length_mm / LINE_STEP_MM)
    return [length_mm * step / steps for step in range(steps + 1)]


def rock_height(rock_mm: float, x_mm: float) -> float:
    """Return the height [mm] of the bar line above its lowest point."""
    return 4 * rock_mm * ((x_mm - LOWEST_MM) / ROCK_CHORD_MM) ** 2


def bar_line(rock_mm: float, length_mm: float) -> Points:
    return [[x, round(rock_height(rock_mm, x), 1)] for x in _places(length_mm)]


def _depth_at(stations: dict[str, tuple[float, Section]], side: str, x_mm: float) -> float:
    """Return how far [mm] the bar line lies below the midline, linear between stations."""
    known = sorted(
        (x, depth_mm(section.side(side), BAR_LINE_MM)) for x, section in stations.values()
    )
    if x_mm <= known[0][0]:
        return known[0][1]
    for (x0, d0), (x1, d1) in itertools.pairwise(known):
        if x_mm <= x1:
            return d0 + (d1 - d0) * (x_mm - x0) / (x1 - x0)
    return known[-1][1]


def midline(stations: dict[str, tuple[float, Section]], rock_mm: float, length_mm: float) -> Points:
    """Return the midline that closes with the sections and the bar line: heights [mm]."""
    points = []
    for x in _places(length_mm):
        depth = (_depth_at(stations, "L", x) + _depth_at(stations, "R", x)) / 2
        points.append([x, round(rock_height(rock_mm, x) + depth, 1)])
    return points
