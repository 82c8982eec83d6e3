"""Numbers a fitter reads off a measured back: widths, slopes, angles, twist, dip.

Our definitions, stated with each: there is no standard for them. Widths 3 and 15 cm below the
midline and their ratio are those of back-shape studies (Greve and Dyson 2014, doi
10.1111/evj.12267_161).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .geometry import BackModel, BackShape
from .profiles import ANGLE_AT, SLOPE_BAND, STRAIGHT_EDGE, depth_at, half_width_at


@dataclass(frozen=True)
class StationNumbers:
    """A cross-section in numbers, pairs left then right.

    Attributes
    ----------
    name : str
    distance : float
        Behind the shoulder blade [m].
    half_width_3, half_width_15 : tuple of float
        3 and 15 cm below the midline; nan where the profile ends above [m].
    slope : tuple of float
        Of the straight line between 60 and 140 mm off the midline [rad].
    included_angle : float
        pi less both slopes of the curve 100 mm off the midline [rad].
    """

    name: str
    distance: float
    half_width_3: tuple[float, float]
    half_width_15: tuple[float, float]
    slope: tuple[float, float]
    included_angle: float

    @property
    def width_3(self) -> float:
        """Full width 3 cm down [m]."""
        return sum(self.half_width_3)

    @property
    def width_15(self) -> float:
        """Full width 15 cm down [m]."""
        return sum(self.half_width_15)

    @property
    def ratio(self) -> float:
        """Width 3 cm down over width 15 cm down: higher is rounder [-]."""
        return self.width_3 / self.width_15

    @property
    def difference_15(self) -> float:
        """Left less right half-width 15 cm down [m]."""
        return self.half_width_15[0] - self.half_width_15[1]


@dataclass(frozen=True)
class BackNumbers:
    """A back in numbers, pairs left then right.

    Attributes
    ----------
    stations : tuple of StationNumbers
    twist : tuple of float
        Mean slope of the first two stations less that of the last two [rad].
    rock : tuple of float
        Dip of the bar line under a 17 in straight edge at mid-support; negative is a roach [m].
    dip : tuple of float
        Deepest point of the bar line below the line joining its first and last station [m].
    """

    stations: tuple[StationNumbers, ...]
    twist: tuple[float, float]
    rock: tuple[float, float]
    dip: tuple[float, float]


def back_numbers(back: BackShape) -> BackNumbers:
    """Return the derived numbers of a measured back.

    Raises
    ------
    InvalidShape
        If a profile is malformed, or a side has no lengthwise line.
    """
    model = BackModel(back)
    stations = tuple(_station(model, i) for i in range(len(back.stations)))
    slopes = np.array([station.slope for station in stations])
    twist = slopes[:2].mean(axis=0) - slopes[-2:].mean(axis=0)
    return BackNumbers(
        stations=stations,
        twist=(float(twist[0]), float(twist[1])),
        rock=(_rock(model, 0), _rock(model, 1)),
        dip=(_dip(model, 0), _dip(model, 1)),
    )


def _station(model: BackModel, index: int) -> StationNumbers:
    pair = model.curves[index]
    widths = [half_width_at(curve, [0.03, 0.15]) for curve in pair]
    band = [depth_at(curve, SLOPE_BAND) for curve in pair]
    slopes = [float(np.arctan(np.diff(d)[0] / (SLOPE_BAND[1] - SLOPE_BAND[0]))) for d in band]
    local = [float(np.arctan(curve(ANGLE_AT, 1))) for curve in pair]
    return StationNumbers(
        name=model.back.stations[index].name,
        distance=model.back.stations[index].distance,
        half_width_3=(float(widths[0][0]), float(widths[1][0])),
        half_width_15=(float(widths[0][1]), float(widths[1][1])),
        slope=(slopes[0], slopes[1]),
        included_angle=float(np.pi - sum(local)),
    )


def _bar_line(model: BackModel, side: int, x: list[float]) -> list[float]:
    z = model.height(x, [model.back.bar_line])[side, :, 0]
    return [float(v) for v in z]


def _rock(model: BackModel, side: int) -> float:
    """Straight edge centred on the support, or on the stations where the last rib isn't known."""
    back = model.back
    rear = back.last_rib if back.last_rib is not None else back.stations[-1].distance
    middle = rear / 2
    front, low, end = _bar_line(
        model, side, [middle - STRAIGHT_EDGE / 2, middle, middle + STRAIGHT_EDGE / 2]
    )
    return (front + end) / 2 - low


def _dip(model: BackModel, side: int) -> float:
    x = np.linspace(model.distances[0], model.distances[-1], 81)
    z = np.array(_bar_line(model, side, [float(v) for v in x]))
    chord = np.interp(x, [x[0], x[-1]], [z[0], z[-1]])
    return float(np.max(chord - z))
