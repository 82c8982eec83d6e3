"""The room a fit leaves, and the fit at other places, in the words and units of a fitter."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from fitting.adapters.finding_words import CASE_TITLES, LEVEL_WORDS, TITLES
from fitting.adapters.measures import SIDE_WORDS, shown
from fitting.engine import Allowance, PlacementPoint, settled_place
from horses.charts.theme import INCHES, LengthUnit
from horses.units import show_force

ALLOWANCE_TITLES = {
    "tip_room_front": "Room under the front tips",
    "tip_room_rear": "Room under the rear tips",
    "tip_turn_front": "Tips forward before a front tip carries",
    "tip_turn_rear": "Tips back before a rear tip carries",
    "bend": "Bend before a limit is passed, to each side",
    "rope": "Pull at the horn before a limit is passed",
    "see_saw": "See-saw, a hand's push at the front, then at the rear",
}
CARRIES, LOST = "tip_carries", "stability"
LIMIT_WORDS = {CARRIES: "carries", LOST: "the tree no longer holds"}
STILL_PUSH = 0.5  # [N] shown as none
HERE = 5e-4  # [m] below which a tree lies where it was put


@dataclass(frozen=True)
class Room:
    """One value of a row: of which side ("" for the whole tree) and how much."""

    side: str
    value: str


@dataclass(frozen=True)
class AllowanceRow:
    """One kind of room in one load case, both sides together."""

    code: str
    title: str
    case: str
    rooms: tuple[Room, ...]
    limit: str

    @property
    def value(self) -> str:
        return " / ".join(room.value for room in self.rooms)


def allowance_rows(allowances: Sequence[Allowance], unit: LengthUnit) -> tuple[AllowanceRow, ...]:
    """Return the allowances as rows; left and right of one kind share a row."""
    kinds: dict[tuple[str, str], list[Allowance]] = defaultdict(list)
    for allowance in allowances:
        kinds[_kind(allowance)].append(allowance)
    rows = []
    for (code, case), both in kinds.items():
        rooms = tuple(Room(SIDE_WORDS.get(_side(a), ""), _value(a, unit)) for a in both)
        rows.append(AllowanceRow(code, ALLOWANCE_TITLES[code], case, rooms, _limits(both)))
    return tuple(rows)


def _kind(allowance: Allowance) -> tuple[str, str]:
    """Both bends make one row; anything else goes by its load case."""
    if allowance.code == "bend":
        return allowance.code, CASE_TITLES["standing"]
    return allowance.code, CASE_TITLES.get(allowance.case, allowance.case)


def _side(allowance: Allowance) -> str:
    """A tree tips as a whole: which tip carries first stands with the limit."""
    return "" if allowance.code.startswith("tip_turn") else allowance.side


def _value(allowance: Allowance, unit: LengthUnit) -> str:
    if allowance.unit == "N":
        said = show_force(allowance.value, imperial=unit is INCHES)
    else:
        said = shown(allowance.value, allowance.unit)
    if not allowance.reached:
        return f"at least {said}"
    return "none" if allowance.value == 0 else said


def _limits(allowances: Sequence[Allowance]) -> str:
    """Say what comes first; once for both sides where it is the same."""
    said = dict.fromkeys(_limit(a) for a in allowances)
    return "; ".join(part for part in said if part)


def _limit(allowance: Allowance) -> str:
    if not allowance.reached:
        return "no limit passed up to there"
    if allowance.limit == CARRIES:
        if allowance.code.startswith("tip_turn"):
            tip = f"the {allowance.side} tip"
            return f"{tip} carries already" if allowance.value == 0 else f"{tip} carries first"
        return "carries already" if allowance.value == 0 else ""
    if not allowance.limit:
        return ""
    what = LIMIT_WORDS.get(allowance.limit, TITLES.get(allowance.limit, allowance.limit))
    return f"past it standing: {what}" if allowance.value == 0 else f"first: {what}"


@dataclass(frozen=True)
class PlaceRow:
    """The fit with the tree at one place along the back.

    `changes` are the findings whose level differs from that at the measured place.
    """

    where: str
    push: str
    settles: bool
    is_here: bool
    changes: tuple[str, ...]


def placement_rows(sweep: Sequence[PlacementPoint]) -> tuple[PlaceRow, ...]:
    """Return the places from front to rear, each with what changes there."""
    here = next((point for point in sweep if point.shift == 0.0), None)
    as_placed = {code: level for code, level, _ in here.levels} if here else {}
    return tuple(
        PlaceRow(
            where=_where(point.shift),
            push=_push(point.push),
            settles=point.settles,
            is_here=point.shift == 0.0,
            changes=_changes(point, as_placed),
        )
        for point in sweep
    )


def settled_words(sweep: Sequence[PlacementPoint]) -> str:
    """Say where the tree creeps to, or which way it tends; "" without a sweep."""
    if not sweep:
        return ""
    found = settled_place(sweep)
    if found is not None:
        if abs(found.shift) < HERE:
            return "By its shape and the girth the tree stays where it was put."
        moved = _where(found.shift)
        return f"By its shape and the girth the tree creeps to {moved} of where it was put."
    pushes = [point.push for point in sweep if math.isfinite(point.push)]
    if max(map(abs, pushes), default=0.0) < STILL_PUSH:
        return "Neither its shape nor the girth pushes the tree along the back."
    way = "rear" if sum(pushes) > 0 else "front"
    return f"By its shape and the girth the tree tends to the {way}, further than was looked at."


def _where(shift: float) -> str:
    if shift == 0.0:
        return "as placed"
    return f"{shown(abs(shift), 'm')} {'behind' if shift > 0 else 'ahead'}"


def _push(push: float) -> str:
    if not math.isfinite(push):
        return "finds no rest there"
    if abs(push) < STILL_PUSH:
        return "no push"
    return f"{shown(abs(push), 'N')} to the {'rear' if push > 0 else 'front'}"


def _changes(point: PlacementPoint, as_placed: dict[str, str]) -> tuple[str, ...]:
    return tuple(
        f"{TITLES.get(code, code)}: {LEVEL_WORDS[level].lower()}"
        for code, level, _ in point.levels
        if as_placed.get(code, level) != level
    )
