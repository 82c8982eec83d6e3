"""How the findings hang on what was assumed: a table, and a small chart for each assumption."""

from collections.abc import Sequence
from dataclasses import dataclass

from fitting.adapters.errors import CannotShow
from fitting.adapters.finding_words import LEVEL_WORDS, LONG, ORDER, RULE_OF, TITLES
from fitting.adapters.measures import SIDE_WORDS, shown
from fitting.charts.sensitivity import Strip, strip
from fitting.engine import EngineError, Sensitivity, Sweep, SweepFinding, from_dict
from fitting.models import FitEvaluation
from horses.charts.theme import INCHES, Chart, LengthUnit, chart
from horses.units import show_force, show_length

NO_REST = "no rest found"
SWEEP_TITLES = {
    "tissue": "Give of the back",
    "pad": "Give of the pad",
    "height": "Height of the rider's weight above the bars",
    "stirrups": "Rider's weight in the stirrups",
    "placement": "Front tip behind the blade",
    "girth": "Girth tension, each side",
}
AXES = {
    "tissue": "stiffness, × taken",
    "pad": "stiffness, × taken",
    "height": "above the bars",
    "stirrups": "share of the rider's weight",
    "placement": "front tip behind the blade",
    "girth": "on each side",
}


@dataclass(frozen=True)
class Hanging:
    """One finding: its level as taken, and on which assumptions that hangs, in words."""

    title: str
    level: str
    level_words: str
    over: tuple[str, ...]

    @property
    def holds(self) -> bool:
        return not self.over


@dataclass(frozen=True)
class SweepPart:
    """One assumption: its range, its chart where a finding changes, and that in words."""

    title: str
    taken: str
    source: str
    words: str
    chart: Chart | None


@dataclass(frozen=True)
class SensitivityPage:
    """The page: findings that hang on something first, then each assumption."""

    hanging: tuple[Hanging, ...]
    holding: tuple[Hanging, ...]
    parts: tuple[SweepPart, ...]
    engine_version: str


def sensitivity_page_of(evaluation: FitEvaluation, unit: LengthUnit) -> SensitivityPage:
    """Return the page of stored sweeps; raises CannotShow where they are of another form."""
    try:
        found = from_dict(evaluation.sensitivity)
    except EngineError as error:
        raise CannotShow(str(error)) from error
    assert isinstance(found, Sensitivity)
    rows = _hangings(found, unit)
    return SensitivityPage(
        hanging=tuple(row for row in rows if not row.holds),
        holding=tuple(row for row in rows if row.holds),
        parts=tuple(_part(sweep, unit) for sweep in found.sweeps),
        engine_version=found.engine_version,
    )


def _key(finding: SweepFinding) -> tuple[str, str]:
    """The side of a worst reading may change along a sweep; it is the same finding."""
    rule = RULE_OF.get(finding.code)
    return finding.code, finding.side if rule is not None and rule.is_per_side else ""


def _title(key: tuple[str, str]) -> str:
    code, side = key
    title = TITLES.get(code, code.replace("_", " ").capitalize())
    return f"{title}, {SIDE_WORDS[side]}" if side else title


def _by_key(sweep: Sweep) -> dict[tuple[str, str], list[SweepFinding | None]]:
    """Return each finding's readings along a sweep; None where the tree found no rest."""
    at = [{_key(f): f for f in point.findings} for point in sweep.points]
    keys = dict.fromkeys(key for found in at for key in found)
    return {key: [found.get(key) for found in at] for key in keys}


def _taken(sweep: Sweep) -> int:
    return next(i for i, point in enumerate(sweep.points) if point.value == sweep.assumed)


def _hangings(found: Sensitivity, unit: LengthUnit) -> list[Hanging]:
    first = found.sweeps[0]
    now = {_key(f): f.level for f in first.points[_taken(first)].findings}
    rows = []
    for key, level in sorted(now.items(), key=lambda item: ORDER[item[1]]):
        over = [words for sweep in found.sweeps if (words := _change(sweep, key, unit))]
        rows.append(Hanging(_title(key), level, LEVEL_WORDS[level], tuple(over)))
    return rows


def _change(sweep: Sweep, key: tuple[str, str], unit: LengthUnit) -> str:
    """Return "Give of the pad: watch from 1.5 times", or "" where the level holds."""
    readings = _by_key(sweep)[key]
    here = readings[_taken(sweep)]
    if here is None:
        return ""
    taken, said = _taken(sweep), []
    for order in (range(taken, -1, -1), range(taken, len(readings))):
        for i in order:
            other = readings[i]
            if other is not None and other.level != here.level:
                level, value = LEVEL_WORDS[other.level].lower(), sweep.points[i].value
                said.append(f"{level} at {_value(sweep, value, unit)}")
                break
    return f"{SWEEP_TITLES[sweep.code]}: {', '.join(said)}" if said else ""


def _value(sweep: Sweep, value: float, unit: LengthUnit) -> str:
    if sweep.unit == "x":
        return "as taken" if value == 1 else f"{value:.2g} times as stiff"
    if sweep.unit == "m":
        return show_length(value * 1e3, imperial=unit is INCHES)
    if sweep.unit == "N":
        return show_force(value, imperial=unit is INCHES)
    return shown(value, sweep.unit)


def _tick(sweep: Sweep, value: float, unit: LengthUnit) -> str:
    """Return a value as short as an axis wants it."""
    if sweep.unit == "x":
        return f"{value:.2g} ×"
    return _value(sweep, value, unit).partition(" (")[0]


def _part(sweep: Sweep, unit: LengthUnit) -> SweepPart:
    readings = _by_key(sweep)
    moving = {key: found for key, found in readings.items() if _moves(found)}
    lost = sum(1 for point in sweep.points if not point.findings)
    words = f"{len(moving)} of {len(readings)} findings change their level."
    if not moving:
        words = "No finding changes its level over this range."
    if lost:
        words += f" At {lost} of the values the tree finds no rest."
    return SweepPart(
        title=SWEEP_TITLES[sweep.code],
        taken=_value(sweep, sweep.assumed, unit),
        source=sweep.source,
        words=words,
        chart=_chart(sweep, moving, unit) if moving else None,
    )


def _moves(readings: Sequence[SweepFinding | None]) -> bool:
    return len({reading.level for reading in readings if reading is not None}) > 1


def _chart(
    sweep: Sweep, moving: dict[tuple[str, str], list[SweepFinding | None]], unit: LengthUnit
) -> Chart:
    values = tuple(_value(sweep, point.value, unit) for point in sweep.points)
    ticks = tuple(_tick(sweep, point.value, unit) for point in sweep.points)
    data = Strip(
        values=ticks,
        assumed=ticks[_taken(sweep)],
        findings=tuple(_title(key) for key in moving),
        levels=tuple(tuple(r.level if r else "" for r in found) for found in moving.values()),
        axis=AXES[sweep.code],
    )
    return chart(
        strip(data),
        id=f"sweep-{sweep.code}",
        title=SWEEP_TITLES[sweep.code],
        head=("Finding", *values),
        rows=[(_title(key), *(_cell(r, unit) for r in found)) for key, found in moving.items()],
        note="Dotted line: what was taken.",
    )


def _cell(reading: SweepFinding | None, unit: LengthUnit) -> str:
    if reading is None:
        return NO_REST
    long = unit if reading.code in LONG else None
    return f"{shown(reading.value, reading.unit, long)}, {LEVEL_WORDS[reading.level].lower()}"
