"""A back measurement becomes the engine's back: sections and lines, left and right kept apart."""

from collections import defaultdict

import numpy as np

from fitting.adapters.gathering import Gathering
from fitting.engine import BackShape, HalfProfile, LineProfile, Station
from horses.models import BackMeasurement, SectionProfile, Side
from horses.models import LineProfile as LineRecord

MM = 1e-3
NEEDED_STATIONS = ("S1", "S3", "S5")  # front, middle, end: fewer would leave the bar unseen
REPEAT_LIMIT_MM = 4.0  # two traces of one section, half-width 15 cm down (our rule)
CHECK_DEPTH_MM = 150.0
SIDE_NAMES = {"L": "left", "R": "right"}
Points = list[list[float]]


def mean_trace(traces: list[Points]) -> Points:
    """Return the mean of repeated traces, at the abscissae of the first that all of them reach."""
    first = traces[0]
    deepest = min(trace[-1][0] for trace in traces)
    at = [point[0] for point in first if point[0] <= deepest + 1e-9]
    read = [np.interp(at, *np.transpose(trace)) for trace in traces]
    return [[float(a), float(b)] for a, b in zip(at, np.mean(read, axis=0), strict=True)]


def _half_profile(points: Points) -> HalfProfile:
    return HalfProfile(
        half_widths=tuple(width * MM for _, width in points),
        depths=tuple(depth * MM for depth, _ in points),
    )


def _sections(
    measurement: BackMeasurement,
) -> dict[str, dict[str, list[SectionProfile]]]:
    """Return the traced sections by station and side, without traces of fewer than 3 points."""
    found: dict[str, dict[str, list[SectionProfile]]] = defaultdict(lambda: defaultdict(list))
    for section in measurement.sections.all():
        if len(section.points) >= 3:
            found[section.station][section.side].append(section)
    return found


def _note_repeat(account: Gathering, name: str, traces: list[SectionProfile]) -> None:
    if len(traces) == 1:
        account.supposed(f"{name}: second trace", "the one trace", "the curve was laid on once")
        return
    read = [np.interp(CHECK_DEPTH_MM, *np.transpose(t.points)) for t in traces]
    difference = float(np.ptp(read))
    if difference > REPEAT_LIMIT_MM:
        account.supposed(
            f"{name}: traces {difference:.0f} mm apart at 15 cm depth",
            "their mean",
            f"more than {REPEAT_LIMIT_MM:.0f} mm apart: trace it again to be surer",
        )


def _station(
    name: str, sides: dict[str, list[SectionProfile]], account: Gathering
) -> Station | None:
    halves: dict[str, HalfProfile] = {}
    for side in (Side.LEFT, Side.RIGHT):
        traces = sides.get(side, [])
        if not traces:
            continue
        _note_repeat(account, f"{name} {SIDE_NAMES[side]}", traces)
        points = mean_trace([trace.points for trace in traces])
        halves[side] = _half_profile(points)
        shown = ", ".join(f"{width:.0f} at {depth:.0f}" for depth, width in points if depth)
        account.entered(
            "Back", f"{name} {SIDE_NAMES[side]}: half-width at depth, mm", shown, typed=""
        )
    if len(halves) < 2:
        return None
    every = [trace.behind_blade_mm for traces in sides.values() for trace in traces]
    distance = float(np.mean(every))
    account.entered("Back", f"{name} behind the blade", distance, "mm")
    return Station(name, distance * MM, halves[Side.LEFT], halves[Side.RIGHT])


def _stations(measurement: BackMeasurement, account: Gathering) -> tuple[Station, ...]:
    found, stations = _sections(measurement), []
    for name in ("S1", "S2", "S3", "S4", "S5"):
        sides = found.get(name, {})
        station = _station(name, sides, account)
        if station is not None:
            stations.append(station)
        elif len(sides) == 1:
            lost = next(SIDE_NAMES[s] for s in (Side.LEFT, Side.RIGHT) if s not in sides)
            account.lacks(f"Section {name}, {lost} side", measurement)
        elif name in NEEDED_STATIONS:
            account.lacks(f"Section {name}, both sides", measurement)
        else:
            account.supposed(f"Section {name}", "a curve between its neighbours", "not traced")
    return tuple(sorted(stations, key=lambda station: station.distance))


def _lines(measurement: BackMeasurement) -> dict[str, tuple[LineProfile, float]]:
    """Return each lengthwise line [m] with how far off the midline it was taken [mm]."""
    traces: dict[str, list[LineRecord]] = defaultdict(list)
    for line in measurement.lines.all():
        if len(line.points) >= 3:
            traces[line.line].append(line)
    lines = {}
    for kind, records in traces.items():
        points = mean_trace([record.points for record in records])
        profile = LineProfile(
            distances=tuple(x * MM for x, _ in points), heights=tuple(z * MM for _, z in points)
        )
        lines[kind] = (profile, float(np.mean([r.off_midline_mm for r in records])))
    return lines


def _bar_line_mm(lines: dict[str, tuple[LineProfile, float]], account: Gathering) -> float:
    off = [lines[kind][1] for kind in ("left_bar", "right_bar") if kind in lines]
    if len(off) == 2 and abs(off[0] - off[1]) > 5:
        account.supposed(
            "Bar lines taken at different distances off the midline",
            f"{np.mean(off):.0f} mm",
            f"left {off[0]:.0f} mm, right {off[1]:.0f} mm: the mean is used for both",
        )
    return float(np.mean(off)) if off else 88.0


def back_shape_of(measurement: BackMeasurement, account: Gathering) -> BackShape:
    """Return the back [m]; unusable when the account says that something is missing."""
    stations = _stations(measurement, account)
    lines = _lines(measurement)
    for kind, side in (("left_bar", "left"), ("right_bar", "right")):
        if kind in lines:
            points = zip(lines[kind][0].distances, lines[kind][0].heights, strict=True)
            shown = ", ".join(f"{z / MM:.0f} at {x / MM:.0f}" for x, z in points)
            account.entered("Back", f"Bar line, {side}: height at distance, mm", shown)
        elif "midline" in lines:
            account.supposed(
                f"Bar line, {side}", "the midline profile", "it shows bone rather than muscle"
            )
        else:
            account.lacks(f"Lengthwise profile along the {side} bar line", measurement)
    last_rib = account.note(measurement, "support_length_mm")
    if last_rib is None:
        account.supposed("Last rib", "not known", "how far the bar reaches cannot be judged")
    groove = account.note(measurement, "girth_groove_mm")
    if groove is None:
        account.supposed("Girth groove", "below the rigging", "the girth is taken to hang straight")
    profiles = {kind: profile for kind, (profile, _) in lines.items()}
    return BackShape(
        stations=stations,
        left_line=profiles.get("left_bar"),
        right_line=profiles.get("right_bar"),
        midline=profiles.get("midline"),
        last_rib=None if last_rib is None else last_rib * MM,
        girth_groove=None if groove is None else groove * MM,
        bar_line=_bar_line_mm(lines, account) * MM,
    )
