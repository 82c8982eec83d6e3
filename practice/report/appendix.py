"""The measurements appendix: each number now and before, with a word for the difference."""

from dataclasses import dataclass

from horses.adapters.profiles import back_point, body_point
from horses.models import BackMeasurement
from horses.seasons import BackPoint, BodyPoint
from horses.units import show_hands, show_length, show_mass
from practice.report.comparing import (
    SAME_ANGLE_DEG,
    SAME_LENGTH_MM,
    SAME_MASS,
    SAME_ROCK_MM,
    SAME_WIDTH_MM,
    Kind,
    change_word,
    earlier_measurement,
)
from practice.report.words import STATION_PLAIN
from practice.selectors.reports import ReportRecords

NOTHING = "–"


@dataclass(frozen=True)
class AppendixRow:
    """One number: what it is, now, before, and how it changed in a word.

    Where left and right are measured, each text has a line for either.
    """

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


def appendix_of(records: ReportRecords, *, imperial: bool) -> tuple[AppendixGroup, ...]:
    """Return the groups that have anything measured at this visit, none without a measuring."""
    now, then = records.measurement, earlier_measurement(records)
    if now is None:
        return ()
    new, old = back_point(now), back_point(then) if then else None
    groups = (
        _body(now, then, imperial=imperial),
        _widths(new, old, imperial=imperial),
        _angles(new, old),
    )
    return tuple(group for group in groups if group.rows)


def _row(what: str, now: float | None, before: float | None, kind: Kind) -> list[AppendixRow]:
    if now is None:
        return []
    earlier = NOTHING if before is None else kind.show(before)
    return [AppendixRow(what, kind.show(now), earlier, change_word(now, before, kind))]


Pair = tuple[float | None, float | None]


def _sides(what: str, now: Pair, before: Pair, kind: Kind) -> list[AppendixRow]:
    """One row for left and right, each with its own number and word."""
    if now == (None, None):
        return []
    changes = [change_word(n, b, kind) for n, b in zip(now, before, strict=True) if n is not None]
    word = changes[0] if len(set(changes)) == 1 else "\n".join(changes)
    return [AppendixRow(what, _both(now, kind), _both(before, kind), word)]


def _both(pair: Pair, kind: Kind) -> str:
    if pair == (None, None):
        return NOTHING
    shown = [NOTHING if value is None else kind.show(value) for value in pair]
    return f"L {shown[0]},\nR {shown[1]}"


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
    rows += _sides("Hollow behind the shoulder blade", _hollows(now), _hollows(then), hollow)
    return AppendixGroup("The body", "", tuple(rows))


def _hollows(measurement: BackMeasurement | None) -> Pair:
    return _of(measurement, "hollow_left_mm"), _of(measurement, "hollow_right_mm")


def _of(measurement: BackMeasurement | None, name: str) -> float | None:
    value: float | None = getattr(measurement, name) if measurement else None
    return value


def _widths(now: BackPoint, then: BackPoint | None, *, imperial: bool) -> AppendixGroup:
    kind = Kind(lambda v: show_length(v, imperial=imperial), SAME_WIDTH_MM, "wider", "narrower")
    rows: list[AppendixRow] = []
    for station, place in STATION_PLAIN.items():
        rows += _sides(place, _width(now, station), _width(then, station), kind)
    deep = show_length(150, imperial=imperial)
    return AppendixGroup(
        "Half the width of the back",
        f"From the middle of the back out to the side, taken {deep} below the top line. "
        "Wider means more muscle or fat; left and right should be about alike.",
        tuple(rows),
    )


def _width(back: BackPoint | None, station: str) -> Pair:
    halves = [back.sections.get((station, side)) if back else None for side in "LR"]
    left, right = (half.w15_mm if half else None for half in halves)
    return left, right


def _angles(now: BackPoint, then: BackPoint | None) -> AppendixGroup:
    kind = Kind(lambda v: f"{v:.0f}°", SAME_ANGLE_DEG, "flatter", "steeper")
    rows: list[AppendixRow] = []
    for station, place in STATION_PLAIN.items():
        before = then.included_angle(station) if then else None
        rows += _row(place, now.included_angle(station), before, kind)
    dip = Kind(lambda v: f"{v:.0f} mm", SAME_ROCK_MM, "deeper", "shallower")
    rows += _sides("Dip of the back lengthwise", _rocks(now), _rocks(then), dip)
    return AppendixGroup(
        "Angle and dip of the back",
        "The angle is that between the two sides: a larger one is a flatter, rounder back, a "
        "smaller one a steeper back. The dip is under a 17 in straight edge.",
        tuple(rows),
    )


def _rocks(back: BackPoint | None) -> Pair:
    return (back.rock_mm.get("L"), back.rock_mm.get("R")) if back else (None, None)
