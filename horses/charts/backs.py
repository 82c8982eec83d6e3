"""The back's shape through time: widths, angles and the difference between left and right."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from horses.charts.panels import Panels
from horses.charts.theme import (
    CENTIMETRES,
    INK,
    SIDE_LINES,
    SIDE_MARKERS,
    SIDE_WORDS,
    Chart,
    LengthUnit,
    chart,
)
from horses.seasons import BackPoint, Change, SectionNumbers

NOTHING = "–"
LEAST_SPREAD_MM, LEAST_SPREAD_DEG = 30.0, 12.0  # height of a panel at least
NOTE_MM, ACT_MM = 5.0, 10.0  # left-right difference to note and to act on (our design)


def _shown(unit: LengthUnit, value_mm: float | None) -> str:
    places = 1 if unit is CENTIMETRES else 2
    return NOTHING if value_mm is None else f"{unit(value_mm):.{places}f}"


def _scaled(unit: LengthUnit, value_mm: float | None) -> float | None:
    return None if value_mm is None else round(unit(value_mm), 2)


def _stations(points: Sequence[BackPoint], stations: Sequence[str]) -> list[str]:
    found = {station for point in points for station, _ in point.sections}
    return [station for station in stations if station in found]


def _section(point: BackPoint, station: str, side: str) -> SectionNumbers:
    return point.sections.get((station, side)) or SectionNumbers(None, None, None)


@dataclass(frozen=True)
class Depth:
    """A depth below the midline at which half-widths are compared."""

    cm: int
    width: Callable[[SectionNumbers], float | None]


UPPER = Depth(3, lambda numbers: numbers.w3_mm)
LOWER = Depth(15, lambda numbers: numbers.w15_mm)


def widths_chart(
    points: Sequence[BackPoint],
    *,
    depth: Depth,
    stations: Sequence[str],
    station_names: dict[str, str],
    changes: Sequence[Change] = (),
    unit: LengthUnit = CENTIMETRES,
) -> Chart | None:
    """Return half-widths at one depth by station and side, None without any."""
    shown = _stations(points, stations)
    if not shown:
        return None
    days = [point.day for point in points]
    panels = Panels([station_names[s] for s in shown], days=days, changes=changes, row_px=84)
    for index, station in enumerate(shown):
        both: list[float | None] = []
        for side in "LR":
            values = [_scaled(unit, depth.width(_section(p, station, side))) for p in points]
            both += values
            panels.line(
                index,
                days,
                values,
                name=SIDE_WORDS[side],
                line=SIDE_LINES[side],
                marker=SIDE_MARKERS[side],
                shown=index == 0,
                unit=f" {unit.name}",
            )
        panels.keep_open(index, both, unit(LEAST_SPREAD_MM))
    return chart(
        panels.figure(),
        id=f"widths-{depth.cm}",
        title=f"Half-width of the back {depth.cm} cm below the midline, {unit.name}",
        head=("Day", *(f"{station} {side}" for station in shown for side in "LR"), *RATIO_HEAD),
        rows=[_widths_row(point, depth, shown, unit) for point in reversed(points)],
        note="The ratio, 3 cm over 15 cm, falls when the muscle behind the shoulder wastes.",
    )


RATIO_AT = "S1"
RATIO_HEAD = (f"{RATIO_AT} ratio L", f"{RATIO_AT} ratio R")


def _widths_row(
    point: BackPoint, depth: Depth, shown: Sequence[str], unit: LengthUnit
) -> tuple[str, ...]:
    numbers = [_section(point, station, side) for station in shown for side in "LR"]
    ratios = [_section(point, RATIO_AT, side).ratio for side in "LR"]
    return (
        _day(point),
        *(_shown(unit, depth.width(n)) for n in numbers),
        *(NOTHING if ratio is None else f"{ratio:.3f}" for ratio in ratios),
    )


def _day(point: BackPoint) -> str:
    poor = f" ({', '.join(point.problems)})" if point.problems else ""
    return f"{point.day:%Y-%m-%d}{poor}"


ANGLE_DASHES = ("solid", "dash", "dot", "dashdot", "longdash")
ANGLE_SYMBOLS = ("circle", "square", "diamond", "triangle-up", "x")


def angles_chart(
    points: Sequence[BackPoint],
    *,
    stations: Sequence[str],
    station_names: dict[str, str],
    changes: Sequence[Change] = (),
) -> Chart | None:
    """Return each station's included angle and the angle of each side, None without any."""
    shown = _stations(points, stations)
    if not shown:
        return None
    days = [point.day for point in points]
    panels = Panels([station_names[s] for s in shown], days=days, changes=changes, row_px=84)
    for index, station in enumerate(shown):
        _angle_lines(panels, index, station, points, days)
    return chart(
        panels.figure(),
        id="angles",
        title="Angle between the two sides of the back, degrees",
        head=("Day", *(f"{s} {w}" for s in shown for w in PER_STATION), *PER_BACK),
        rows=[_angles_row(point, shown) for point in reversed(points)],
        note=(
            "Included angle: between the two sides, so a larger number is a flatter, wider back. "
            "Each side's own angle is drawn as if both sides were like it; left and right apart "
            "means uneven."
        ),
    )


def _angle_lines(
    panels: Panels, index: int, station: str, points: Sequence[BackPoint], days: Sequence[date]
) -> None:
    for side in "LR":
        slopes = [_section(p, station, side).slope_deg for p in points]
        panels.line(
            index,
            days,
            [None if slope is None else round(180 - 2 * slope, 1) for slope in slopes],
            name=SIDE_WORDS[side],
            line={**SIDE_LINES[side], "width": 1.5},
            marker={**SIDE_MARKERS[side], "size": 6},
            shown=index == 0,
            unit="°",
        )
    panels.line(
        index,
        days,
        [_rounded(p.included_angle(station)) for p in points],
        name="Included",
        line={"color": INK, "width": 2.5, "dash": "dot"},
        marker={"color": INK, "size": 7, "symbol": "square"},
        shown=index == 0,
        unit="°",
    )
    slopes = [_section(p, station, side).slope_deg for p in points for side in "LR"]
    opened = [None if slope is None else 180 - 2 * slope for slope in slopes]
    panels.keep_open(index, opened, LEAST_SPREAD_DEG)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


PER_STATION = ("included", "slope L", "slope R")
PER_BACK = ("Twist L", "Twist R", "Rock L, mm", "Rock R, mm")


def _angles_row(point: BackPoint, shown: Sequence[str]) -> tuple[str, ...]:
    cells: list[float | None] = []
    for station in shown:
        left, right = (_section(point, station, side).slope_deg for side in "LR")
        cells += [point.included_angle(station), left, right]
    cells += [*(point.twist(side) for side in "LR"), *(point.rock_mm.get(side) for side in "LR")]
    return (_day(point), *(NOTHING if c is None else f"{c:.1f}" for c in cells))


def evenness_chart(
    points: Sequence[BackPoint],
    *,
    stations: Sequence[str],
    station_names: dict[str, str],
    changes: Sequence[Change] = (),
) -> Chart | None:
    """Return left half-width less right, 15 cm down, with the lines to note and to act on."""
    shown = _stations(points, stations)
    if not shown:
        return None
    days = [point.day for point in points]
    panels = Panels(["Left less right, mm"], days=days, changes=changes, row_px=230)
    for number, station in enumerate(shown):
        values = [_rounded(p.left_less_right(station)) for p in points]
        panels.line(
            0,
            days,
            values,
            name=station,
            line={"width": 2, "dash": ANGLE_DASHES[number % len(ANGLE_DASHES)]},
            marker={"size": 8, "symbol": ANGLE_SYMBOLS[number % len(ANGLE_SYMBOLS)]},
            unit=" mm",
        )
    for limit in (NOTE_MM, -NOTE_MM, ACT_MM, -ACT_MM):
        dash = "dash" if abs(limit) == ACT_MM else "dot"
        panels.level(0, limit, dash=dash)
    return chart(
        panels.figure(),
        id="evenness",
        title="Left and right compared, half-width 15 cm down",
        head=("Day", *(f"{station_names[s]}, mm" for s in shown)),
        rows=[_evenness_row(point, shown) for point in reversed(points)],
        note=(
            "Above the middle the left side is wider. Dotted: 5 mm, worth noting; dashed: 10 mm, "
            "act, and when it is new ask the veterinarian first."
        ),
    )


def _evenness_row(point: BackPoint, shown: Sequence[str]) -> tuple[str, ...]:
    values = [point.left_less_right(station) for station in shown]
    return (_day(point), *(NOTHING if v is None else f"{v:+.0f}" for v in values))
