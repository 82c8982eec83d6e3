"""What each pairing's computed fit measured over time: length that bears, gap, load, peaks."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from horses.charts.panels import Panels
from horses.charts.theme import (
    ACCENT,
    CENTIMETRES,
    INK,
    SIDE_LINES,
    SIDE_MARKERS,
    SIDE_WORDS,
    SOFT,
    Chart,
    LengthUnit,
    chart,
)
from horses.seasons import Change

NOTHING = "–"
LEAST_GAP_MM = 10.0  # height of the gap's panel at least, so that a millimetre stays small
ZONES = {"cranial": "Front", "middle": "Middle", "caudal": "Rear"}
ZONE_LINES: dict[str, dict[str, Any]] = {
    "cranial": {"color": ACCENT, "width": 2.5, "dash": "solid"},
    "middle": {"color": INK, "width": 2.5, "dash": "dot"},
    "caudal": {"color": SOFT, "width": 2.5, "dash": "dash"},
}
ZONE_SYMBOLS = {"cranial": "triangle-up", "middle": "square", "caudal": "triangle-down"}


@dataclass(frozen=True)
class FitPoint:
    """What one evaluation measured. Sides are "L" and "R", zones the three thirds of the bars."""

    day: date
    saddle: str
    pairing: str
    bearing_mm: Mapping[str, float] = field(default_factory=dict)
    gap_mm: Mapping[str, float] = field(default_factory=dict)
    share: Mapping[str, float] = field(default_factory=dict)
    peak_kpa: Mapping[str, float] = field(default_factory=dict)


def tracks(points: Sequence[FitPoint]) -> list[list[FitPoint]]:
    """Part the evaluations so that saddles used side by side come apart (points oldest first).

    A saddle that follows another stands in one track with it, so that before and after compare.
    """
    by_saddle: dict[str, list[FitPoint]] = {}
    for point in points:
        by_saddle.setdefault(point.saddle, []).append(point)
    found: list[list[FitPoint]] = []
    for own in by_saddle.values():
        ended = [track for track in found if track[-1].day < own[0].day]
        if ended:
            ended[-1] += own
        else:
            found.append(list(own))
    return found


def fit_history_charts(
    points: Sequence[FitPoint],
    *,
    changes: Sequence[Change] = (),
    unit: LengthUnit = CENTIMETRES,
) -> list[Chart]:
    """Return one chart per track of saddles, none without an evaluation."""
    return [
        _chart(number, track, changes, unit) for number, track in enumerate(tracks(points), start=1)
    ]


def _chart(
    number: int, points: Sequence[FitPoint], changes: Sequence[Change], unit: LengthUnit
) -> Chart:
    """Lines join evaluations of one pairing only: between two saddles there is no line."""
    titles = [
        f"Length that bears weight, {unit.name}",
        "Gap under the middle, nobody up, mm",
        "Share of the load by third, %",
        "Peak by third, kPa, computed",
    ]
    panels = Panels(titles, days=[point.day for point in points], changes=changes, row_px=112)
    _side_lines(panels, 0, points, lambda p: p.bearing_mm, lambda v: round(unit(v), 2), unit.name)
    _side_lines(panels, 1, points, lambda p: p.gap_mm, lambda v: round(v, 1), "mm")
    _zone_lines(panels, 2, points, lambda p: p.share, lambda v: round(100 * v, 1), "%")
    _zone_lines(panels, 3, points, lambda p: p.peak_kpa, lambda v: round(v, 1), "kPa")
    for index in range(len(titles)):
        panels.axis(index, rangemode="tozero")
    widest = max((gap for point in points for gap in point.gap_mm.values()), default=0.0)
    panels.axis(1, range=[0, max(LEAST_GAP_MM, 1.15 * widest)])
    saddles = ", ".join(dict.fromkeys(point.saddle for point in points))
    return chart(
        panels.figure(),
        id=f"fit-history-{number}",
        title=f"Computed fit of {saddles}",
        head=_head(unit),
        rows=[_row(point, unit) for point in reversed(points)],
        note=(
            "Computed from the measured back and tree, standing with the rider unless the panel "
            "says otherwise. Good for comparing saddles and seasons; not a measure of pain."
        ),
    )


Values = Callable[[FitPoint], Mapping[str, float]]
Scale = Callable[[float], float]


def _broken(
    points: Sequence[FitPoint], values: Values, key: str, scale: Scale
) -> tuple[list[date], list[float | None]]:
    """Return days and values with a gap wherever the pairing changes."""
    days: list[date] = []
    shown: list[float | None] = []
    for before, point in zip([None, *points[:-1]], points, strict=True):
        if before is not None and before.pairing != point.pairing:
            days.append(point.day)
            shown.append(None)
        value = values(point).get(key)
        days.append(point.day)
        shown.append(None if value is None else scale(value))
    return days, shown


def _side_lines(
    panels: Panels,
    index: int,
    points: Sequence[FitPoint],
    values: Values,
    scale: Scale,
    unit: str,
) -> None:
    for side in "LR":
        days, shown = _broken(points, values, side, scale)
        panels.line(
            index,
            days,
            shown,
            name=SIDE_WORDS[side],
            line=SIDE_LINES[side],
            marker=SIDE_MARKERS[side],
            shown=index == 0,
            unit=f" {unit}",
        )


def _zone_lines(
    panels: Panels,
    index: int,
    points: Sequence[FitPoint],
    values: Values,
    scale: Scale,
    unit: str,
) -> None:
    for zone, words in ZONES.items():
        days, shown = _broken(points, values, zone, scale)
        line = ZONE_LINES[zone]
        panels.line(
            index,
            days,
            shown,
            name=words,
            line=line,
            marker={"color": line["color"], "size": 8, "symbol": ZONE_SYMBOLS[zone]},
            shown=index == 2,
            unit=f" {unit}",
        )


def _head(unit: LengthUnit) -> tuple[str, ...]:
    thirds = [words.lower() for words in ZONES.values()]
    return (
        "Day",
        "Pairing",
        *(f"Bears {side}, {unit.name}" for side in "LR"),
        *(f"Gap {side}, mm" for side in "LR"),
        *(f"Load {third}, %" for third in thirds),
        *(f"Peak {third}, kPa" for third in thirds),
    )


def _row(point: FitPoint, unit: LengthUnit) -> tuple[str, ...]:
    cells = [
        *(_cell(point.bearing_mm.get(side), lambda v: f"{unit(v):.1f}") for side in "LR"),
        *(_cell(point.gap_mm.get(side), lambda v: f"{v:.0f}") for side in "LR"),
        *(_cell(point.share.get(zone), lambda v: f"{100 * v:.0f}") for zone in ZONES),
        *(_cell(point.peak_kpa.get(zone), lambda v: f"{v:.0f}") for zone in ZONES),
    ]
    return (f"{point.day:%Y-%m-%d}", point.pairing, *cells)


def _cell(value: float | None, show: Callable[[float], str]) -> str:
    return NOTHING if value is None else show(value)
