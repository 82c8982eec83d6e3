"""Which tree each feeling-over speaks for, over the whole practice."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fitting.models import Pairing
from fitting.selectors.tack import SAME_PLACE_MM
from horses.selectors.felt_values import FeltValue

Key = tuple[int, str, int | None]


@dataclass(frozen=True)
class TreeInUse:
    """What a horse can tell of saddles: their tree, rigging and stirrup position."""

    key: Key
    tree_id: int
    tree: str
    rigging: str
    stirrup_mm: float | None


@dataclass(frozen=True)
class Attributed:
    """The checks that speak for one tree each, and how many speak for none."""

    felt: tuple[tuple[FeltValue, TreeInUse], ...]
    under_several: int
    under_none: int


@dataclass(frozen=True)
class _Span:
    horse_id: int
    start: date
    end: date | None
    used: TreeInUse

    def covers(self, day: date) -> bool:
        """What is felt on the day a saddle comes speaks for the saddle before."""
        return self.start < day and (self.end is None or day <= self.end)


def attributed(felt: Iterable[FeltValue]) -> Attributed:
    """Give each check to the tree the horse went under; none where there were two or none."""
    spans: dict[int, list[_Span]] = defaultdict(list)
    for span in _spans():
        spans[span.horse_id].append(span)
    found: list[tuple[FeltValue, TreeInUse]] = []
    several = none = 0
    for value in felt:
        used = {s.used.key: s.used for s in spans[value.horse_id] if s.covers(value.day)}
        if len(used) == 1:
            found.append((value, next(iter(used.values()))))
        elif used:
            several += 1
        else:
            none += 1
    return Attributed(tuple(found), several, none)


def saddles_by_key(keys: Sequence[Key]) -> dict[Key, list[str]]:
    """Return the tags of the saddles that carry each key."""
    tags: dict[Key, set[str]] = defaultdict(set)
    for pairing in _pairings():
        key = _used(pairing).key
        if key in keys:
            tags[key].add(pairing.saddle.tag)
    return {key: sorted(tags[key]) for key in keys}


def _pairings() -> Iterable[Pairing]:
    return Pairing.objects.filter(saddle__tree__isnull=False).select_related("saddle__tree")


def _spans() -> Iterable[_Span]:
    for pairing in _pairings():
        yield _Span(pairing.horse_id, pairing.from_date, pairing.to_date, _used(pairing))


def _used(pairing: Pairing) -> TreeInUse:
    saddle = pairing.saddle
    stirrup_mm = saddle.stirrup_behind_tip_mm
    # Stirrups closer together than a tape is read count as one place.
    step = None if stirrup_mm is None else round(stirrup_mm / SAME_PLACE_MM)
    assert saddle.tree is not None  # the query asks for saddles with a tree
    return TreeInUse(
        key=(saddle.tree.pk, saddle.rigging, step),
        tree_id=saddle.tree.pk,
        tree=saddle.tree.tag,
        rigging=saddle.get_rigging_display() if saddle.rigging else "",
        stirrup_mm=stirrup_mm,
    )
