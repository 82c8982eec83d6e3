"""How well the two times a curve was laid on agree, depth by depth."""

from dataclasses import dataclass

from horses.forms.profiles import (
    DEEP,
    SIDE_WORDS,
    TRACES,
    SectionForm,
    is_repeat_asked,
    read_mm,
    width_name,
)
from horses.models import DEPTHS_MM


@dataclass(frozen=True)
class WidthRow:
    """One depth with a number for each side, None where there is none."""

    depth: float
    left: float | None
    right: float | None


@dataclass(frozen=True)
class ApartRow(WidthRow):
    """How far the two times lie apart at one depth, and how far they may."""

    limit: float

    @property
    def is_left_over(self) -> bool:
        return is_repeat_asked(self.depth, self.left, self.limit)

    @property
    def is_right_over(self) -> bool:
        return is_repeat_asked(self.depth, self.right, self.limit)


@dataclass(frozen=True)
class Repeat:
    """How well the two times agree on one side."""

    side: str
    words: str
    level: str

    @property
    def side_word(self) -> str:
        return SIDE_WORDS[self.side].lower()


def apart_rows(form: SectionForm) -> list[ApartRow]:
    """Return for every depth how far apart the two times are now, stored or not."""
    return [
        ApartRow(depth, _apart(form, "L", depth), _apart(form, "R", depth), form.repeat_limit_mm)
        for depth in DEPTHS_MM
    ]


def _apart(form: SectionForm, side: str, depth: int) -> float | None:
    first, second = (
        read_mm(str(form[width_name(side, trace, depth)].value() or "")) for trace in TRACES
    )
    return None if first is None or second is None else abs(first - second)


def repeats(rows: list[ApartRow]) -> list[Repeat]:
    """Return one sentence a side, for the sides taken twice."""
    sides = {
        "L": [(row.depth, row.left, row.is_left_over) for row in rows if row.left is not None],
        "R": [(row.depth, row.right, row.is_right_over) for row in rows if row.right is not None],
    }
    limit = rows[0].limit
    return [_repeat(side, found, limit) for side, found in sides.items() if found]


def _repeat(side: str, found: list[tuple[float, float, bool]], limit: float) -> Repeat:
    name = SIDE_WORDS[side]
    apart = {depth: value for depth, value, _ in found}
    worst = max(apart, key=lambda depth: apart[depth])
    largest = f"largest difference {apart[worst]:.0f} mm, at {worst:.0f} mm down"
    is_over = any(is_beyond for _, _, is_beyond in found)
    if DEEP not in apart:
        words = f"{name}: {largest}; {DEEP} mm not taken twice"
        return Repeat(side, words, "watch" if is_over else "unknown")
    at_deep = f"{apart[DEEP]:.0f} mm at {DEEP} mm; {largest}"
    if is_over:
        return Repeat(side, f"{name} differs: {at_deep}. Wanted: less than {limit:.3g}", "watch")
    return Repeat(side, f"{name} agrees: {at_deep}", "plain")
