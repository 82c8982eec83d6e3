"""The measurements appendix: each number now and before, with a word for the difference."""

from collections.abc import Callable
from dataclasses import dataclass

from horses.adapters.profiles import back_point, body_point
from horses.models import BackMeasurement
from horses.seasons import BackPoint, BodyPoint
from horses.units import show_hands, show_length, show_mass
from practice.report.drawings import SIDES, earlier_measurement
from practice.report.words import STATION_PLAIN
from practice.selectors.reports import ReportRecords

NOTHING = "–"
# Differences smaller than these are within what two measurings of the same back differ by (our
# design: half-widths from the repeat limit of the flexible curve).
SAME_WIDTH_MM = 4.0
SAME_ANGLE_DEG = 2.0
SAME_ROCK_MM = 2.0
SAME_MASS = 0.02
SAME_LENGTH_MM = 6.0


@dataclass(frozen=True)
class AppendixRow:
    """One number: what it is, now, before, and how it changed in a word."""

    what: str
    now: str
    before: str
    change: str


@dataclass(frozen=True)
class AppendixGroup:
    """Rows under one heading, with what the heading means."""

    title: str
    meaning: str
    rows: tuple[AppendixRow, ...]


@dataclass(frozen=True)
class Kind:
    """How a number is shown and what its going up and down is called."""

    show: Callable[[float], str]
    same: float
    up: str
    down: str


def appendix_of(records: ReportRecords, *, imperial: bool) -> tuple[AppendixGroup, ...]:
    """Return the groups that have anything measured at this visit, none without a measuring."""
    now, then = records.measurement, earlier_measurement(records)
    if now is None:
        return ()
    groups = (
        _body(now, then, imperial=imperial),
        _widths(back_point(now), back_point(then) if then else None, imperial=imperial),
        _angles(back_point(now), back_point(then) if then else None),
    )
    return tuple(group for group in groups if group.rows)


def _row(what: str, now: float | None, before: float | None, kind: Kind) -> list[AppendixRow]:
    if now is None:
        return []
    earlier = NOTHING if before is None else kind.show(before)
    return [AppendixRow(what, kind.show(now), earlier, _change(now, before, kind))]


def _change(now: float, before: float | None, kind: Kind) -> str:
    if before is None:
        return "first time"
    if abs(now - before) < kind.same:
        return "same"
    return kind.up if now > before else kind.down


def _body(now: BackMeasurement, then: BackMeasurement | None, *, imperial: bool) -> AppendixGroup:
    new = body_point(now)
    old = body_point(then) if then else BodyPoint(now.measured_on, None, False, None, None)
    mass = Kind(
        lambda v: show_mass(v, imperial=imperial), SAME_MASS * (new.mass_kg or 0), "more", "less"
    )
    length = Kind(lambda v: show_length(v, imperial=imperial), SAME_LENGTH_MM, "larger", "smaller")
    score = Kind(lambda v: f"{v:.0f}", 0.5, "more", "less")
    hollow = Kind(lambda v: f"{v:.0f} mm", 2.0, "deeper: worse", "shallower: better")
    how = "scale" if new.is_scale else "worked out from girth and length"
    rows = [
        *_row(
            "Height at the withers",
            now.height_mm,
            _of(then, "height_mm"),
            Kind(show_hands, 6.0, "taller", "lower"),
        ),
        *_row(f"Weight of the horse ({how})", new.mass_kg, old.mass_kg, mass),
        *_row("Girth", now.girth_mm, _of(then, "girth_mm"), length),
        *_row("Body condition, 1 thin to 9 fat", new.condition, old.condition, score),
        *_row("Muscle, 1 poor to 5 strong", new.muscle, old.muscle, score),
    ]
    for _, word in SIDES:
        name = f"hollow_{word}_mm"
        what = f"Hollow behind the shoulder blade, {word}"
        rows += _row(what, getattr(now, name), _of(then, name), hollow)
    return AppendixGroup("The body", "", tuple(rows))


def _of(measurement: BackMeasurement | None, name: str) -> float | None:
    value: float | None = getattr(measurement, name) if measurement else None
    return value


def _widths(now: BackPoint, then: BackPoint | None, *, imperial: bool) -> AppendixGroup:
    kind = Kind(lambda v: show_length(v, imperial=imperial), SAME_WIDTH_MM, "wider", "narrower")
    rows: list[AppendixRow] = []
    for station, place in STATION_PLAIN.items():
        for side, word in SIDES:
            new = now.sections.get((station, side))
            old = then.sections.get((station, side)) if then else None
            what = f"{place}, {word}"
            rows += _row(what, new.w15_mm if new else None, old.w15_mm if old else None, kind)
    deep = show_length(150, imperial=imperial)
    return AppendixGroup(
        "Half the width of the back",
        f"From the middle of the back out to the side, taken {deep} below the top line. "
        "Wider means more muscle or fat; left and right should be about alike.",
        tuple(rows),
    )


def _angles(now: BackPoint, then: BackPoint | None) -> AppendixGroup:
    kind = Kind(lambda v: f"{v:.0f}°", SAME_ANGLE_DEG, "flatter", "steeper")
    rows: list[AppendixRow] = []
    for station, place in STATION_PLAIN.items():
        before = then.included_angle(station) if then else None
        rows += _row(place, now.included_angle(station), before, kind)
    dip = Kind(lambda v: f"{v:.0f} mm", SAME_ROCK_MM, "deeper", "shallower")
    for side, word in SIDES:
        before = then.rock_mm.get(side) if then else None
        what = f"Dip of the back lengthwise, {word}"
        rows += _row(what, now.rock_mm.get(side), before, dip)
    return AppendixGroup(
        "Angle and dip of the back",
        "The angle is that between the two sides: a larger one is a flatter, rounder back, a "
        "smaller one a steeper back. The dip is under a 17 in straight edge.",
        tuple(rows),
    )
