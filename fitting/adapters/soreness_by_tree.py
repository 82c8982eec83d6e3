"""The page of soreness by tree: what the model says of each, in words and numbers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fitting.selectors.soreness_by_tree import Attributed, Key, TreeInUse
from horses.selectors.felt_values import FeltValue
from horses.statistics.shrinkage import GroupPart, parts_of_groups

FEWEST_HORSES = 3  # below, the words keep to the counts: that few cannot speak for a tree
CLEAR = 0.95


@dataclass(frozen=True)
class TreeRow:
    """One tree: plain counts and means, and its part beside the others under the model."""

    tree_id: int
    name: str
    saddles: str
    horses: int
    checks: int
    sore_checks: int
    mean: float
    left: float | None
    right: float | None
    part: float
    low: float
    high: float
    worse: float
    words: str


@dataclass(frozen=True)
class TreesPage:
    """Rows, worst first; what the model rests on; what could not be used."""

    rows: tuple[TreeRow, ...]
    mean: float | None
    group_share: float
    horse_share: float
    under_several: int
    under_none: int
    checks: int


def trees_page(
    attributed: Attributed,
    saddles: Mapping[Key, Sequence[str]],
    stirrup_words: Callable[[float], str],
) -> TreesPage:
    """Put the page together; without two trees to compare it has no rows."""
    felt = attributed.felt
    parts = parts_of_groups(
        [value.value for value, _ in felt],
        [used.key for _, used in felt],
        [value.horse_id for value, _ in felt],
    )
    rows: list[TreeRow] = []
    if parts is not None:
        used_by_key = {used.key: used for _, used in felt}
        for part in parts.groups:
            used = used_by_key[part.group]  # type: ignore[index]
            mine = [value for value, other in felt if other.key == part.group]
            rows.append(_row(part, used, mine, saddles[used.key], stirrup_words))
    return TreesPage(
        rows=tuple(sorted(rows, key=lambda row: -row.part)),
        mean=parts.mean if parts else None,
        group_share=parts.group_share if parts else 0.0,
        horse_share=parts.horse_share if parts else 0.0,
        under_several=attributed.under_several,
        under_none=attributed.under_none,
        checks=len(felt),
    )


def _row(
    part: GroupPart,
    used: TreeInUse,
    felt: Sequence[FeltValue],
    saddles: Sequence[str],
    stirrup_words: Callable[[float], str],
) -> TreeRow:
    return TreeRow(
        tree_id=used.tree_id,
        name=_name(used, stirrup_words),
        saddles=", ".join(saddles),
        horses=part.horses,
        checks=part.checks,
        sore_checks=sum(value.sore > 0 for value in felt),
        mean=part.raw,
        left=_mean([value.left for value in felt]),
        right=_mean([value.right for value in felt]),
        part=part.part,
        low=part.low,
        high=part.high,
        worse=part.worse,
        words=words_of(part),
    )


def _name(used: TreeInUse, stirrup_words: Callable[[float], str]) -> str:
    words = [used.tree]
    if used.rigging:
        words.append(f"{used.rigging} rigging")
    if used.stirrup_mm is not None:
        words.append(f"stirrup {stirrup_words(used.stirrup_mm)} behind the tip")
    return ", ".join(words)


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known else None


def words_of(part: GroupPart) -> str:
    """Return what may be said of a tree; never that it is the cause."""
    if part.horses < FEWEST_HORSES:
        return f"Too few horses to speak for the tree ({part.horses}; at least {FEWEST_HORSES})."
    if part.worse >= CLEAR:
        return "Horses under it were sorer than under the others."
    if part.worse <= 1 - CLEAR:
        return "Horses under it were less sore than under the others."
    return "Cannot be told from the others."
