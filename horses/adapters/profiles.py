"""From stored profiles to the numbers followed over time. Millimetres outside, metres inside."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from math import atan, degrees
from typing import Any

import numpy as np

from fitting.engine import (
    ANGLE_AT,
    STRAIGHT_EDGE,
    EngineError,
    HalfProfile,
    LineProfile,
    half_width_at,
    height_at,
    line_curve,
    profile_curve,
)
from horses.models import BackMeasurement, SorenessCheck
from horses.seasons import BackPoint, BodyPoint, SectionNumbers, SorenessPoint
from horses.weight import tape_mass_kg

MM = 1000.0
# Depths at which half-widths are compared, as in back-shape studies with a flexible curve
# (L. Greve and S. Dyson 2014, doi 10.1111/evj.12267_161).
UPPER_DEPTH, LOWER_DEPTH = 0.030, 0.150
REACH = 0.0005  # a last point half a millimetre short still counts as reaching the depth
BAR_LINE_SIDES = {"left_bar": "L", "right_bar": "R"}
NOTHING = SectionNumbers(None, None, None)

Points = Sequence[Sequence[float]]


def section_numbers(points: Points) -> SectionNumbers:
    """Return half-widths and slope of one stored half-section ([depth_mm, half_width_mm] pairs).

    The slope is that of the curve 100 mm off the midline, in degrees below the horizontal; a
    section that does not reach that far has none.
    """
    depths = tuple(depth / MM for depth, _ in points)
    try:
        curve = profile_curve(HalfProfile(tuple(width / MM for _, width in points), depths))
    except EngineError:
        return NOTHING
    slope = degrees(atan(curve(ANGLE_AT, 1))) if curve.x[-1] >= ANGLE_AT else None
    return SectionNumbers(_width(curve, UPPER_DEPTH), _width(curve, LOWER_DEPTH), slope)


def _width(curve: Any, depth: float) -> float | None:
    deepest = float(curve(curve.x[-1]))
    if depth > deepest + REACH:
        return None
    return float(half_width_at(curve, min(depth, deepest - 1e-9))) * MM


def sagitta_mm(points: Points) -> float | None:
    """Return the dip of a lengthwise line below a 17 in straight edge laid on its middle [mm].

    `points` are stored [distance_behind_blade_mm, height_mm] pairs; a shorter line has no sagitta.
    """
    x = tuple(distance / MM for distance, _ in points)
    try:
        curve = line_curve(LineProfile(x, tuple(height / MM for _, height in points)))
    except EngineError:
        return None
    if x[-1] - x[0] < STRAIGHT_EDGE - REACH:
        return None
    start = (x[0] + x[-1] - STRAIGHT_EDGE) / 2
    along = np.linspace(start, start + STRAIGHT_EDGE, 201)
    line = height_at(curve, along)
    edge = np.linspace(line[0], line[-1], 201)
    return float(np.max(edge - line)) * MM


def back_point(measurement: BackMeasurement) -> BackPoint:
    """Return one measuring in numbers (sections and lines prefetched).

    The two tracings of the same side are averaged; left and right never are.
    """
    traces: dict[tuple[str, str], list[SectionNumbers]] = defaultdict(list)
    for section in measurement.sections.all():
        traces[section.station, section.side].append(section_numbers(section.points))
    rocks: dict[str, list[float]] = defaultdict(list)
    for line in measurement.lines.all():
        rock = sagitta_mm(line.points)
        if rock is not None:
            rocks[BAR_LINE_SIDES.get(line.line, "M")].append(rock)
    rock_mm = {side: sum(values) / len(values) for side, values in rocks.items()}
    return BackPoint(
        day=measurement.measured_on,
        sections={key: _mean(numbers) for key, numbers in traces.items()},
        rock_mm=rock_mm,
        problems=problems_of(measurement),
    )


def _mean(numbers: Sequence[SectionNumbers]) -> SectionNumbers:
    return SectionNumbers(
        _mean_of(n.w3_mm for n in numbers),
        _mean_of(n.w15_mm for n in numbers),
        _mean_of(n.slope_deg for n in numbers),
    )


def _mean_of(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


def problems_of(measurement: BackMeasurement) -> tuple[str, ...]:
    """Return why a measuring stays out of a trend: poor quality, or taken after work."""
    problems = list(measurement.quality_problems)
    if measurement.work == BackMeasurement.Work.AFTER:
        problems.append("taken after work")
    is_scan = measurement.method == BackMeasurement.Method.SCAN
    if is_scan and measurement.visit_id is None:
        problems.append("scanned beside the visit's own measuring")
    return tuple(problems)


def body_point(measurement: BackMeasurement) -> BodyPoint:
    """Return weight (scale first, else tape) and condition of one measuring."""
    mass = measurement.scale_mass_kg
    return BodyPoint(
        day=measurement.measured_on,
        mass_kg=mass if mass is not None else _tape_mass(measurement),
        is_scale=mass is not None,
        condition=measurement.condition_score,
        muscle=measurement.muscle_score,
    )


def _tape_mass(measurement: BackMeasurement) -> float | None:
    if measurement.girth_mm is None or measurement.length_mm is None:
        return None
    return tape_mass_kg(girth_mm=measurement.girth_mm, length_mm=measurement.length_mm)


def soreness_point(check: SorenessCheck) -> SorenessPoint:
    """Return one check in numbers (scores prefetched)."""
    return SorenessPoint(
        day=check.checked_at.date(),
        scores={(row.site, row.side): row.score for row in check.scores.all()},
    )
