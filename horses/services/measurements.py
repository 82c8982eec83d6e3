"""Writing down the back of a horse as measured on one day."""

from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import transaction

from horses.models import (
    S5_AHEAD_OF_LAST_RIB_MM,
    STATION_DISTANCE_MM,
    BackMeasurement,
    Horse,
    LineProfile,
    ProfileMethod,
    SectionProfile,
    TracingPhoto,
)
from horses.services.records import merged_typed, store

if TYPE_CHECKING:
    from practice.models import User, Visit

Points = list[list[float]]


@transaction.atomic
def record_back_measurement(
    *,
    horse: Horse,
    measured_on: date,
    examiner: "User | None" = None,
    visit: "Visit | None" = None,
    values: dict[str, Any],
    typed: dict[str, str] | None = None,
) -> BackMeasurement:
    """Create the measurement of a visit, or change it; without a visit a new one is made.

    `values` maps field names to canonical values and only these are written; `typed` holds the
    texts they were read from.
    """
    found = None
    if visit is not None:
        found = BackMeasurement.objects.filter(horse=horse, visit=visit).first()
    measurement = found or BackMeasurement(horse=horse, visit=visit, examiner=examiner)
    texts = merged_typed(measurement.typed, values, typed)
    return store(measurement, **values, measured_on=measured_on, typed=texts)


@transaction.atomic
def record_section(
    *,
    measurement: BackMeasurement,
    station: str,
    side: str,
    trace: int,
    points: Points,
    behind_blade_mm: float | None = None,
    typed: dict[str, str] | None = None,
    tracing: TracingPhoto | None = None,
    method: str = ProfileMethod.TYPED,
) -> SectionProfile:
    """Write one half of one section, traced once: [[depth_mm, half_width_mm], ...].

    Without `behind_blade_mm` the station's own distance is taken; for S5 that needs the support
    length of this horse. With a `tracing` the numbers were read from its photo.
    """
    section = SectionProfile.objects.filter(
        measurement=measurement, station=station, side=side, trace=trace
    ).first() or SectionProfile(measurement=measurement, station=station, side=side, trace=trace)
    values = {
        "behind_blade_mm": _distance_of(measurement, station, behind_blade_mm),
        "points": _checked_section(points),
        "typed": typed or {},
    }
    return store(section, **values, **_came_from(section, values["points"], tracing, method))


@transaction.atomic
def clear_section(
    *, measurement: BackMeasurement, station: str, side: str, trace: int
) -> BackMeasurement:
    """Take one half of one section out again, for example because its numbers were rubbed out."""
    for section in measurement.sections.filter(station=station, side=side, trace=trace):
        section.delete()
    return measurement


@transaction.atomic
def record_line(
    *,
    measurement: BackMeasurement,
    line: str,
    trace: int = 1,
    points: Points,
    off_midline_mm: float = 88,
    typed: dict[str, str] | None = None,
    tracing: TracingPhoto | None = None,
    method: str = ProfileMethod.TYPED,
) -> LineProfile:
    """Write one lengthwise profile: [[distance_behind_blade_mm, height_mm], ...].

    Heights are stored relative to the first point, whatever they were read from. With a `tracing`
    they were read from its photo.
    """
    profile = LineProfile.objects.filter(
        measurement=measurement, line=line, trace=trace
    ).first() or LineProfile(measurement=measurement, line=line, trace=trace)
    values = {
        "off_midline_mm": 0.0 if line == LineProfile.Line.MIDLINE else off_midline_mm,
        "points": _relative_to_first(_in_order(points, "Distances")),
        "typed": typed or {},
    }
    return store(profile, **values, **_came_from(profile, values["points"], tracing, method))


@transaction.atomic
def clear_line(*, measurement: BackMeasurement, line: str, trace: int = 1) -> BackMeasurement:
    """Take one lengthwise profile out again."""
    for profile in measurement.lines.filter(line=line, trace=trace):
        profile.delete()
    return measurement


def station_distance_mm(measurement: BackMeasurement | None, station: str) -> float | None:
    """Return how far behind the blade a station lies; None for S5 without a support length."""
    if station in STATION_DISTANCE_MM:
        return STATION_DISTANCE_MM[station]
    if measurement is None or measurement.support_length_mm is None:
        return None
    return measurement.support_length_mm - S5_AHEAD_OF_LAST_RIB_MM


def _distance_of(
    measurement: BackMeasurement, station: str, behind_blade_mm: float | None
) -> float:
    distance = behind_blade_mm
    if distance is None:
        distance = station_distance_mm(measurement, station)
    if distance is None:
        raise ValidationError(
            {"behind_blade_mm": "S5 needs the support length, or its distance behind the blade."}
        )
    return distance


def _came_from(
    profile: SectionProfile | LineProfile,
    points: object,
    tracing: TracingPhoto | None,
    method: str,
) -> dict[str, Any]:
    """Return how numbers came in; those of a photo stay its own until one of them is changed."""
    if tracing is not None:
        photo = ProfileMethod.TRACING
        return {"method": photo, "tracing": tracing, "scale_error": tracing.scale_error}
    if profile.pk is not None and profile.points == points:
        return {}
    return {"method": method, "tracing": None, "scale_error": None}


def _in_order(points: Points, what: str) -> Points:
    places = [place for place, _ in points]
    if not points or any(b <= a for a, b in pairwise(places)):
        raise ValidationError({"points": f"{what} must be given and increase from row to row."})
    return [[float(place), float(value)] for place, value in points]


def _checked_section(points: Points) -> Points:
    ordered = _in_order(points, "Depths")
    widths = [width for _, width in ordered]
    if ordered[0][0] < 0 or widths[0] < 0:
        raise ValidationError({"points": "Depths and half-widths are not negative."})
    if any(b <= a for a, b in pairwise(widths)):
        raise ValidationError({"points": "Each half-width must be more than the one above it."})
    return ordered


def _relative_to_first(points: Points) -> Points:
    first = points[0][1]
    return [[place, height - first] for place, height in points]
