"""A marked scan becomes geometry in metres, and what was read from it an account in mm."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from horses.adapters.profiles import NOTHING, back_point, section_numbers
from horses.charts.scan import ScanPicture
from horses.models import (
    DEPTHS_MM,
    S5_AHEAD_OF_LAST_RIB_MM,
    STATION_DISTANCE_MM,
    BackMeasurement,
    BackScan,
)
from horses.scanning.derive import HalfSection, Line
from horses.scanning.landmarks import METRES, TAPES, ScaleCheck, scale_by_tape, scale_checks
from horses.scanning.measure import ScannedBack, Wanted
from horses.scanning.resample import BackGrid
from horses.scanning.surface import Array
from horses.seasons import SectionNumbers

MM = 1e-3
DEEP_MM = 150.0
USUAL_BAR_LINE_MM = 88.0
LEAST_POINTS = 3  # of a section or a line, so that a curve can be laid through it
TAPE_FIELDS = dict(zip(TAPES, ("tape_withers_croup_mm", "tape_blade_rib_mm"), strict=True))
Account = dict[str, Any]


def marks_of(marks: Mapping[str, list[float]]) -> dict[str, Array]:
    return {code: np.array(place, float) for code, place in marks.items()}


def tapes_of(lengths_mm: Mapping[str, float | None]) -> dict[tuple[str, str], float]:
    """Return the tape distances typed, by the marks they run between [m]."""
    named = {pair: lengths_mm.get(name) for pair, name in TAPE_FIELDS.items()}
    return {pair: value * MM for pair, value in named.items() if value}


def metres_per_unit(scan: BackScan) -> float:
    """Return what one unit of the file is [m], by its unit or by the tapes."""
    if scan.scaled_by == BackScan.Scale.TAPES:
        return scale_by_tape(marks_of(scan.marks), tapes_of(vars(scan)))
    return METRES[scan.unit]


def wanted_of(measurement: BackMeasurement) -> Wanted:
    """Return where to read a scan: as the tracing beside it was taken, where there is one."""
    bar_lines = [line.off_midline_mm for line in measurement.lines.all() if line.off_midline_mm]
    off = sum(bar_lines) / len(bar_lines) if bar_lines else USUAL_BAR_LINE_MM
    return Wanted(
        stations={name: at * MM for name, at in STATION_DISTANCE_MM.items()},
        last_station="S5",
        ahead_of_rib=S5_AHEAD_OF_LAST_RIB_MM * MM,
        depths=tuple(depth * MM for depth in DEPTHS_MM),
        bar_line=off * MM,
    )


def croup_over_withers_m(measurement: BackMeasurement) -> float | None:
    value = measurement.croup_over_withers_mm
    return None if value is None else value * MM


def account_of(scan: BackScan, back: ScannedBack, other: ScannedBack | None) -> Account:
    """Return what was read from a scan, in mm; `other` is the same with the other midline."""
    scale = metres_per_unit(scan)
    checks = scale_checks(marks_of(scan.marks), tapes_of(vars(scan)), metres_per_unit=scale)
    lie = back.alignment
    return {
        "metres_per_unit": scale,
        "axes": lie.axes.tolist(),
        "origin": lie.origin.tolist(),
        "scale": [_check(check) for check in checks],
        "level_from": lie.level_from,
        "unevenness_mm": _mm(lie.unevenness),
        "mirrored": round(lie.share, 3),
        "off_midline_mm": {code: _mm(off) for code, off in lie.off_midline.items()},
        "support_mm": _mm(back.support),
        "lowest_mm": _mm(back.lowest),
        "covered": [round(share, 4) for share in back.covered],
        "holes": [
            {
                "side": hole.side,
                "behind_blade_mm": _mm(hole.behind_blade),
                "off_midline_mm": _mm(hole.off_midline),
                "area_cm2": round(hole.area * 1e4, 1),
            }
            for hole in back.holes
        ],
        "sections": [_section(half) for half in back.sections],
        "lines": [_line(line) for line in back.lines],
        "left_less_right_mm": left_less_right(back.sections),
        "by_other_midline_mm": left_less_right(other.sections) if other else {},
    }


def _mm(metres: float) -> float | None:
    return None if np.isnan(metres) else round(metres / MM, 1)


def _check(check: ScaleCheck) -> Account:
    return {
        "pair": list(check.pair),
        "scan_mm": _mm(check.scan),
        "tape_mm": _mm(check.tape),
        "tolerance_mm": _mm(check.tolerance),
        "agrees": check.agrees,
    }


def _section(half: HalfSection) -> Account:
    return {
        "station": half.station,
        "side": half.side,
        "behind_blade_mm": _mm(half.distance),
        "points": _widening([_mm(depth), _mm(width)] for depth, width in half.points),
        "missing": [_mm(depth) for depth in half.missing],
    }


def _widening(points: Iterable[list[Any]]) -> list[list[float]]:
    """Leave out a point that is not wider than the one above it: a level spot of the back."""
    kept: list[list[float]] = []
    for depth, width in points:
        if not kept or width > kept[-1][1]:
            kept.append([depth, width])
    return kept


def _line(line: Line) -> Account:
    return {
        "line": line.name,
        "off_midline_mm": _mm(line.off_midline),
        "points": [[_mm(place), _mm(height)] for place, height in line.points],
        "missing": [_mm(place) for place in line.missing],
    }


def left_less_right(sections: Iterable[HalfSection]) -> dict[str, float]:
    """Return left less right half-width 15 cm down [mm], where both are there."""
    widths = {
        (half.station, half.side): width / MM
        for half in sections
        for depth, width in half.points
        if abs(depth / MM - DEEP_MM) < 0.5
    }
    stations = sorted({station for station, _ in widths})
    return {
        station: round(widths[station, "L"] - widths[station, "R"], 1)
        for station in stations
        if (station, "L") in widths and (station, "R") in widths
    }


# --- On the page --------------------------------------------------------------------------------

SIDE_WORDS = {"L": "left", "R": "right", "M": "midline"}
LINE_WORDS = {"midline": "Midline", "left_bar": "Left bar line", "right_bar": "Right bar line"}
COMPARED_HEAD = (
    *("Section", "3 cm down, mm", "traced", "15 cm down, mm", "traced"),
    *("Slope", "traced"),
)


@dataclass(frozen=True)
class Apart:
    """One half-section by scan and by hand, 15 cm down [mm]."""

    name: str
    scan_mm: float
    traced_mm: float

    @property
    def difference_mm(self) -> float:
        return self.scan_mm - self.traced_mm


def compared(account: Account, traced: BackMeasurement | None) -> list[tuple[str, ...]]:
    """Return each half-section in words, by scan and as traced on the same day."""
    by_hand: Mapping[tuple[str, str], SectionNumbers] = _numbers_of(traced) if traced else {}
    rows: list[tuple[str, ...]] = []
    for half in account["sections"]:
        scan = section_numbers(half["points"])
        hand = by_hand.get((half["station"], half["side"]), NOTHING)
        rows.append(
            (
                f"{half['station']} {SIDE_WORDS[half['side']]}",
                *(_text(scan.w3_mm), _text(hand.w3_mm)),
                *(_text(scan.w15_mm), _text(hand.w15_mm)),
                *(_text(scan.slope_deg, "°"), _text(hand.slope_deg, "°")),
            )
        )
    return rows


def apart(account: Account, traced: BackMeasurement) -> list[Apart]:
    """Return the half-sections that both methods know 15 cm down."""
    by_hand = _numbers_of(traced)
    found = []
    for half in account["sections"]:
        scan = section_numbers(half["points"]).w15_mm
        hand = by_hand.get((half["station"], half["side"]), NOTHING).w15_mm
        if scan is not None and hand is not None:
            found.append(Apart(f"{half['station']} {SIDE_WORDS[half['side']]}", scan, hand))
    return found


def _numbers_of(measurement: BackMeasurement) -> Mapping[tuple[str, str], SectionNumbers]:
    return back_point(measurement).sections


def _text(value: float | None, unit: str = "") -> str:
    return "–" if value is None else f"{value:.0f}{unit}"


def picture_of(scan: BackScan, rows: list[tuple[str, ...]]) -> ScanPicture:
    """Return the back with its sections as the chart wants it [mm]."""
    grid = BackGrid.opened(scan.grid_path)
    return ScanPicture(
        x=grid.x[::2] / MM,
        y=grid.y[::2] / MM,
        heights=grid.heights[:, ::2, ::2] / MM,
        sections=[
            (half["station"], half["side"], half["behind_blade_mm"], half["points"])
            for half in scan.account["sections"]
            if len(half["points"]) >= LEAST_POINTS
        ],
        head=COMPARED_HEAD,
        rows=rows,
    )


def unread(account: Account) -> list[str]:
    """Return in words what a hole or the end of the scan took away."""
    words = []
    for half in account["sections"]:
        if half["missing"]:
            depths = ", ".join(f"{depth:.0f}" for depth in half["missing"])
            words.append(f"{half['station']} {SIDE_WORDS[half['side']]}: {depths} mm down")
    for line in account["lines"]:
        if line["missing"]:
            places = ", ".join(f"{place / 10:.0f}" for place in line["missing"])
            words.append(f"{LINE_WORDS[line['line']]}: {places} cm behind the blade")
    return words


@dataclass(frozen=True)
class SideDifference:
    """Left less right half-width 15 cm down at one station [mm], by either midline."""

    station: str
    chosen_mm: float
    other_mm: float | None


def side_differences(account: Account) -> list[SideDifference]:
    other = account["by_other_midline_mm"]
    return [
        SideDifference(station, value, other.get(station))
        for station, value in account["left_less_right_mm"].items()
    ]
