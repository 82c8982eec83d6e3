"""The numbers behind the report's drawings: saddle from the side, cross-sections, rear, trend."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from fitting.adapters.felt import felt_of
from fitting.models import FitEvaluation, HandCheck
from horses.adapters.profiles import back_point, soreness_point
from horses.models import BackMeasurement
from horses.seasons import BackPoint, SorenessPoint
from horses.units import show_length
from practice.report.comparing import earlier_measurement, width_change
from practice.report.words import STATION_PLAIN
from practice.selectors.horse_page import changes_in
from practice.selectors.reports import PairingRecords, ReportRecords

MM = 1000.0
BAR_LINE_M = 0.088
UNRIDDEN = "saddle_only"
SIDES = (("L", "left"), ("R", "right"))
EVEN_GAP_MM, BRIDGE_MM = 5.0, 8.0  # without load: below is even, above is bridging (our rule)
A_FINGER_MM = 10.0  # room that counts as lifting clear of the loin (common practice, no source)
FRONT_SITES, REAR_SITES = ("WM", "WS", "BS"), ("RB", "LO")
SHOWN_STATIONS = ("S1", "S3", "S5")
BACK_COUNTS_MORE = (
    "The back was sore even so, and the back counts for more than any picture: the cause may lie "
    "elsewhere, and has to be looked for."
)


@dataclass(frozen=True)
class SideView:
    """One bar from the side, front on the left: heights of the back and air above it, in mm."""

    side: str
    x_mm: list[float]
    back_mm: list[float]
    gap_mm: list[float]
    last_rib_mm: float | None


@dataclass(frozen=True)
class Outline:
    """One cross-section: points (off the midline, depth) in mm, now and then, left and right.

    `change` says in words how its width has changed.
    """

    title: str
    change: str
    now_left: list[list[float]]
    now_right: list[list[float]]
    then_left: list[list[float]]
    then_right: list[list[float]]


@dataclass(frozen=True)
class RearView:
    """The rear end: how far the support ends ahead of the last rib, how far it lifts, in mm.

    `by_hand` is False where the end was only computed from the shapes.
    """

    by_hand: bool

    ahead_left_mm: float
    ahead_right_mm: float
    lift_left_mm: float | None
    lift_right_mm: float | None


@dataclass(frozen=True)
class Drawings:
    """The three pictures of one saddle on this back, each with its words."""

    saddle: str
    side_views: tuple[SideView, ...]
    side_words: tuple[str, ...]
    outlines: tuple[Outline, ...]
    outline_words: str
    rear: RearView | None
    rear_words: tuple[str, ...]


@dataclass(frozen=True)
class Trend:
    """Highest score in front and rear of the saddle at each visit; None is 'not tested'."""

    days: tuple[str, ...]
    front: tuple[int | None, ...]
    rear: tuple[int | None, ...]
    changes: tuple[tuple[str, str], ...]


def drawings_of(records: ReportRecords, *, imperial: bool) -> tuple[Drawings, ...]:
    """Return the pictures of each pairing; the cross-sections stand with the first."""
    outlines, outline_words = _outlines(records)
    is_sore = felt_of(records.check).level == "sore"
    found = []
    for index, item in enumerate(records.pairings):
        views = _side_views(item.evaluation)
        rear = _rear(item)
        drawn = Drawings(
            saddle=_name(item, records),
            side_views=views,
            side_words=_gap_words(item, is_sore=is_sore),
            outlines=outlines if index == 0 else (),
            outline_words=outline_words if index == 0 else "",
            rear=rear,
            rear_words=_rear_words(rear, imperial=imperial) if rear else (),
        )
        if drawn.side_views or drawn.outlines or drawn.rear:
            found.append(drawn)
    return tuple(found)


def _name(item: PairingRecords, records: ReportRecords) -> str:
    """Return the saddle's tag, and which of two states of it, before or after the visit's work."""
    tag = item.pairing.saddle.tag
    if sum(other.pairing.saddle_id == item.pairing.saddle_id for other in records.pairings) < 2:
        return tag
    ended = item.pairing.to_date is not None and item.pairing.to_date <= records.day
    return f"{tag} as it came" if ended else f"{tag} as it is now"


def _side_views(evaluation: FitEvaluation | None) -> tuple[SideView, ...]:
    if evaluation is None:
        return ()
    result = evaluation.result
    case = next((c for c in result["cases"] if c["name"] == UNRIDDEN), None)
    if case is None:
        return ()
    last_rib = evaluation.inputs.get("engine", {}).get("back", {}).get("last_rib")
    return tuple(
        _side_view(result, case, index, side, last_rib) for index, (side, _) in enumerate(SIDES)
    )


def _side_view(
    result: Mapping[str, Any], case: Mapping[str, Any], index: int, side: str, rib: float | None
) -> SideView:
    x, y = np.asarray(result["x"], float), np.asarray(result["y"], float)
    z = np.array([np.interp(BAR_LINE_M, y, row) for row in result["z"][index]])
    gap = np.array(case["row_gap"][index], float)
    under = np.isfinite(gap)
    return SideView(
        side=side,
        x_mm=_rounded(x[under]),
        back_mm=_rounded(z[under] - z[under].min()),
        gap_mm=_rounded(np.maximum(gap[under], 0.0)),
        last_rib_mm=None if rib is None else round(rib * MM, 1),
    )


def _rounded(values: Any) -> list[float]:
    return [round(float(v) * MM, 1) for v in values]


def gap_by_hand(item: PairingRecords) -> HandCheck | None:
    return _hand(item, "gap")


def _hand(item: PairingRecords, code: str) -> HandCheck | None:
    """The bare check of a kind in which something was measured."""
    return next(
        (
            check
            for check in item.hand_checks
            if check.code == code
            and check.phase == HandCheck.Phase.BARE
            and check.left_mm is not None
        ),
        None,
    )


def gaps_mm(item: PairingRecords) -> tuple[float, float] | None:
    """Return the gap in the middle left and right: by hand when measured, else computed."""
    hand = gap_by_hand(item)
    if hand is not None and hand.left_mm is not None:
        return hand.left_mm, hand.left_mm if hand.right_mm is None else hand.right_mm
    measures = item.evaluation.measures if item.evaluation else {}
    keys = [f"{UNRIDDEN}.largest_gap.{word}" for _, word in SIDES]
    if not all(key in measures for key in keys):
        return None
    return measures[keys[0]] * MM, measures[keys[1]] * MM


def _gap_words(item: PairingRecords, *, is_sore: bool) -> tuple[str, ...]:
    gaps = gaps_mm(item)
    if gaps is None:
        return ()
    how = "measured with feelers" if gap_by_hand(item) else "computed from the measured shapes"
    left, right = gaps
    lines = [
        f"Largest gap under the middle with nobody up: {left:.0f} mm left, {right:.0f} mm right "
        f"({how}). Up to {EVEN_GAP_MM:.0f} mm is even.",
        _gap_judged(max(gaps)),
    ]
    if is_sore and max(gaps) <= BRIDGE_MM:
        lines.append(BACK_COUNTS_MORE)
    return tuple(lines)


def _gap_judged(worst_mm: float) -> str:
    if worst_mm <= EVEN_GAP_MM:
        return "That is good: saddle and back follow each other from front to rear."
    if worst_mm <= BRIDGE_MM:
        return "That is a little air in the middle, to be watched."
    return (
        "That is too much: the saddle stands on its two ends like a bridge, and the middle "
        "carries almost nothing."
    )


def _outlines(records: ReportRecords) -> tuple[tuple[Outline, ...], str]:
    now, then = records.measurement, earlier_measurement(records)
    if now is None:
        return (), ""
    new, old = _traces(now), _traces(then) if then else {}
    new_back, old_back = back_point(now), back_point(then) if then else None
    outlines = tuple(
        Outline(
            title=STATION_PLAIN[station],
            change=_section_change(new_back, old_back, station),
            now_left=new.get((station, "L"), []),
            now_right=new.get((station, "R"), []),
            then_left=old.get((station, "L"), []),
            then_right=old.get((station, "R"), []),
        )
        for station in SHOWN_STATIONS
        if (station, "L") in new or (station, "R") in new
    )
    if not outlines:
        return (), ""
    day = now.measured_on
    drawn = f"Solid line: now ({day.day} {day:%B %Y})."
    if then is None:
        return outlines, f"{drawn} There is no earlier measuring to compare with."
    before = then.measured_on
    return outlines, f"{drawn} Dashed line: then ({before.day} {before:%B %Y})."


def _section_change(now: BackPoint, then: BackPoint | None, station: str) -> str:
    """Return same, wider or narrower, for each side where they differ."""
    if then is None:
        return ""
    words = []
    for side, name in SIDES:
        new, old = now.sections.get((station, side)), then.sections.get((station, side))
        change = width_change(new.w15_mm if new else None, old.w15_mm if old else None)
        words.append((name, change))
    known = [change for _, change in words if change]
    if len(set(known)) <= 1:
        return known[0] if known else ""
    return ", ".join(f"{name} {change}" for name, change in words if change)


def _traces(measurement: BackMeasurement) -> dict[tuple[str, str], list[list[float]]]:
    """First tracing of each half-section as [off the midline, depth]."""
    found: dict[tuple[str, str], list[list[float]]] = {}
    for section in measurement.sections.all():
        points = [[round(width, 1), round(depth, 1)] for depth, width in section.points]
        found.setdefault((section.station, section.side), points)
    return found


def _rear(item: PairingRecords) -> RearView | None:
    length, lift = _hand(item, "length"), _hand(item, "rear_lift")
    measures = item.evaluation.measures if item.evaluation else {}
    computed = [measures.get(f"shape.ahead_of_last_rib.{word}") for _, word in SIDES]
    if length is not None and length.left_mm is not None:
        left = length.left_mm
        ahead = (left, left if length.right_mm is None else length.right_mm)
    elif computed[0] is not None and computed[1] is not None:
        ahead = (computed[0] * MM, computed[1] * MM)
    else:
        return None
    return RearView(
        by_hand=length is not None,
        ahead_left_mm=round(ahead[0], 1),
        ahead_right_mm=round(ahead[1], 1),
        lift_left_mm=lift.left_mm if lift else None,
        lift_right_mm=lift.right_mm if lift else None,
    )


def _end_words(rear: RearView, *, imperial: bool) -> str:
    worst = min(rear.ahead_left_mm, rear.ahead_right_mm)
    shown = show_length(abs(worst), imperial=imperial)
    where = f"{shown} ahead of" if worst >= 0 else f"{shown} past"
    if not rear.by_hand:
        return (
            f"From the measured shapes, the part that carries weight ends {where} the last rib. It "
            "was not felt for by hand on this visit."
        )
    if worst >= 0:
        judged = "That is good: it stays off the loin."
    else:
        judged = "That is too long: there are no ribs under the loin."
    return f"The part that carries weight ends {where} the last rib. {judged}"


def _rear_words(rear: RearView, *, imperial: bool) -> tuple[str, ...]:
    lines = [_end_words(rear, imperial=imperial)]
    lifts = [lift for lift in (rear.lift_left_mm, rear.lift_right_mm) if lift is not None]
    if lifts:
        judged = (
            "good: the horse can bend and round its back"
            if min(lifts) >= A_FINGER_MM
            else "too little: it digs in when the horse bends"
        )
        lines.append(f"The rear lifts clear by {min(lifts):.0f} mm. That is {judged}.")
    return tuple(lines)


def _highest(point: SorenessPoint, sites: Sequence[str]) -> int | None:
    scores = [s for (site, _), s in point.scores.items() if site in sites and s is not None]
    return max(scores, default=None)


def trend_of(records: ReportRecords) -> Trend | None:
    """Return the highest score in front and rear at each check; None with fewer than two."""
    points = [soreness_point(check) for check in records.checks]
    if len(points) < 2:
        return None
    first: date = points[0].day
    changes = [c for c in changes_in(records.history) if c.day >= first]
    return Trend(
        days=tuple(point.day.isoformat() for point in points),
        front=tuple(_highest(point, FRONT_SITES) for point in points),
        rear=tuple(_highest(point, REAR_SITES) for point in points),
        changes=tuple((change.day.isoformat(), change.words) for change in changes),
    )
