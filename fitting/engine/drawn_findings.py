"""The findings over the draws: how many reach each level, and what their variance comes from."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .bands import Narrowing
from .drawn import Drawn, Key
from .draws import Source
from .findings import LEVELS, Finding, is_read, read_by
from .inputs import FitInputs
from .profiles import Array
from .rules import RULES, Rule

LEAST_SHARE = 0.005  # of the variance; groups below are left out
RULE_OF = {rule.code: rule for rule in RULES}


def key_of(finding: Finding) -> Key | None:
    """Return the measure a finding read; None for one without a rule here."""
    rule = RULE_OF.get(finding.code)
    return None if rule is None else (rule.measure, rule.zone, finding.side)


class Worst:
    """Each finding's worst reading in every draw, as the cases come by."""

    def __init__(self, inputs: FitInputs, findings: tuple[Finding, ...], draws: int) -> None:
        self.inputs, self.findings = inputs, findings
        self.excess = np.full((len(findings), draws), -np.inf)
        self.value = np.full((len(findings), draws), np.nan)

    def read(self, case: str, drawn: Drawn) -> None:
        """Take the readings of one load case."""
        for k, finding in enumerate(self.findings):
            rule = RULE_OF.get(finding.code)
            if rule is None or case not in read_by(rule, self.inputs.cases):
                continue
            for (code, zone, side), values in drawn.items():
                mine = side == finding.side or not rule.is_per_side
                if code == rule.measure and zone == rule.zone and mine and is_read(rule, side):
                    self._take(k, rule, values)

    def _take(self, k: int, rule: Rule, values: Array) -> None:
        low, high = rule.plain
        excess = np.maximum(low - values, values - high)
        worse = excess > self.excess[k]
        self.excess[k, worse] = excess[worse]
        self.value[k, worse] = values[worse]

    def shared(self) -> tuple[Finding, ...]:
        """Return the findings with the share of draws that reach their level."""
        return tuple(self._shared(k, finding) for k, finding in enumerate(self.findings))

    def _shared(self, k: int, finding: Finding) -> Finding:
        values = self.value[k][np.isfinite(self.value[k])]
        if not len(values):
            return finding
        levels = levels_of(RULE_OF[finding.code], values)
        reached = LEVELS.index(finding.level)
        share = np.mean(levels >= reached) if reached else np.mean(levels == 0)
        return replace(finding, share=float(share))


def levels_of(rule: Rule, values: Array) -> NDArray[np.intp]:
    """Return the level of each value under a rule as a number: 0 plain, 1 watch, 2 beyond."""
    inside = [(low <= values) & (values <= high) for low, high in (rule.plain, rule.beyond)]
    return np.where(inside[0], 0, np.where(inside[1], 1, 2))


class Parts:
    """Variance of each finding's measure by group of inputs, as the cases come by."""

    def __init__(self, findings: tuple[Finding, ...], sources: tuple[Source, ...]) -> None:
        self.sources = sources
        self.wanted = {(f.case, key): f for f in findings if (key := key_of(f)) is not None}
        self.found: dict[tuple[str, Key], list[Narrowing]] = {}

    def read(self, case: str, moved: Drawn) -> None:
        """Take one case's measures without error (first) and with each source moved."""
        for key, values in moved.items():
            whole = len(values) == 1 + len(self.sources)
            if whole and (case, key) in self.wanted and np.isfinite(values).all():
                self.found[case, key] = self._parts(case, key, (values[1:] - values[0]) ** 2)

    def _parts(self, case: str, key: Key, variance: Array) -> list[Narrowing]:
        total = float(variance.sum())
        groups: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
        for source, part in zip(self.sources, variance, strict=True):
            groups[source.group][source.item] += float(part)
        shares = [
            Narrowing(
                *key, case, group, sum(items.values()) / total, max(items, key=items.__getitem__)
            )
            for group, items in groups.items()
            if total > 0 and sum(items.values()) >= LEAST_SHARE * total
        ]
        return sorted(shares, key=lambda one: -one.share)

    def narrowing(self) -> list[Narrowing]:
        """Return the shares of every finding's measure, largest first."""
        return [one for key in self.wanted for one in self.found.get(key, ())]
