"""From measures to findings: each rule read over its sides and load cases, the worst one reported.

A finding is an observation with its number, limit and source. It names no illness and adds up to no
score; a fitter reads them beside the state of the back, which comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from .loads import LOAD_CASES, LoadCase
from .measures import Measure
from .rules import RULES, Rule

Level = Literal["plain", "watch", "beyond"]
LEVELS: tuple[Level, Level, Level] = ("plain", "watch", "beyond")


@dataclass(frozen=True)
class Finding:
    """One rule's answer.

    Attributes
    ----------
    code : str
        Name of the rule.
    level : {"plain", "watch", "beyond"}
    value, limit : float
        In `unit`; the limit is the nearest bound of the plain range, or the one that was passed.
    unit, zone, side, case : str
        Side and case are those of the worst reading; empty where they don't apply.
    text : str
        In plain words; empty when plain.
    source, status : str
        Where the limit comes from and how far that was read.
    evidence : {"published", "practice", "low"}
    share : float or None
        Of the draws of the inputs, how many reach at least this level (stay plain, if plain).
    """

    code: str
    level: Level
    value: float
    limit: float
    unit: str
    zone: str
    side: str
    case: str
    text: str
    source: str
    status: str
    evidence: str
    share: float | None = None


def findings_of(
    by_case: Mapping[str, Iterable[Measure]],
    *,
    is_bar_tree: bool,
    cases: tuple[LoadCase, ...] = LOAD_CASES,
    rules: tuple[Rule, ...] = RULES,
) -> tuple[Finding, ...]:
    """Return the findings of all rules that have something to read.

    Parameters
    ----------
    by_case : mapping of str to measures
        Measures of each load case by name, and of the shape under "".
    is_bar_tree : bool
        Published pressures were read under panelled saddles; under bars they are low evidence.
    cases : tuple of LoadCase
        Say which groups of rules read each of them.
    """
    out: list[Finding] = []
    for rule in rules:
        readings = [
            (_excess(rule, m.value), m, case)
            for case in read_by(rule, cases)
            for m in by_case.get(case, ())
            if m.code == rule.measure and m.zone == rule.zone and is_read(rule, m.side)
        ]
        groups = {m.side if rule.is_per_side else "" for _, m, _ in readings}
        for group in sorted(groups):
            mine = [r for r in readings if not rule.is_per_side or r[1].side == group]
            _, measure, case = max(mine, key=lambda reading: reading[0])
            out.append(_finding(rule, measure, case, is_bar_tree))
    return tuple(out)


def read_by(rule: Rule, cases: tuple[LoadCase, ...]) -> tuple[str, ...]:
    """Return the names of the load cases a rule reads; ("",) for the shape alone."""
    if not rule.reads:
        return ("",)
    return tuple(case.name for case in cases if set(rule.reads) & set(case.feeds))


def is_read(rule: Rule, side: str) -> bool:
    """Whether a rule reads a side ("" for both): pressures on each, where a mean would hide one."""
    return bool(side) == (rule.is_per_side or rule.is_pressure)


def _excess(rule: Rule, value: float) -> float:
    """How far a value is past the plain range (negative inside it)."""
    low, high = rule.plain
    return max(low - value, value - high)


def _finding(rule: Rule, measure: Measure, case: str, is_bar_tree: bool) -> Finding:
    level = level_of(rule, measure.value)
    return Finding(
        code=rule.code,
        level=level,
        value=measure.value,
        limit=_limit(rule, measure.value, level),
        unit=rule.unit,
        zone=rule.zone,
        side=measure.side,
        case=case,
        text="" if level == "plain" else rule.texts[LEVELS.index(level) - 1],
        source=rule.source,
        status=rule.status,
        evidence=_evidence(rule, is_bar_tree),
    )


def level_of(rule: Rule, value: float) -> Level:
    """Return the level of a value under a rule."""
    if rule.plain[0] <= value <= rule.plain[1]:
        return "plain"
    return "watch" if rule.beyond[0] <= value <= rule.beyond[1] else "beyond"


def _limit(rule: Rule, value: float, level: Level) -> float:
    low, high = rule.beyond if level == "beyond" else rule.plain
    return low if abs(value - low) < abs(high - value) else high


def _evidence(rule: Rule, is_bar_tree: bool) -> str:
    if rule.is_pressure and is_bar_tree:
        return "low"
    return "published" if rule.status.startswith("V") else "practice"
