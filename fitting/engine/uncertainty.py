"""How far the numbers of an evaluation may be off, from what is known of its inputs' errors.

Draws of all sources of error (`draws`) are carried to the measures by solving their contact anew,
on every second cell, about the poses the evaluation settled in (`response`). A draw's measures are
taken relative to those without error on the same cells, and added to the evaluation's own. The
share of a measure's variance that comes from each group of inputs is found by moving every source
by one standard deviation in turn: the law of propagation of uncertainty, JCGM 100:2008, 5.1.2
[memory], u^2(y) = sum (dy/dx_i u_i)^2. Only the draws' measures are kept, one case at a time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from .bands import Band, Narrowing
from .contact import ContactBatch, solve_contact
from .drawn import Cells, Drawn, DrawnCase, Key
from .draws import Errors, Source, drawn_amounts, drawn_inputs, seed_of, sources_of
from .evaluate import FitInputs, Solved, solve_cases
from .findings import LEVELS, Finding, is_read, read_by
from .geometry import build_surface
from .laws import LayerLaw
from .measures import Measure
from .profiles import Array
from .response import (
    Response,
    Shift,
    matched,
    parted,
    responses_of,
    shape_shifts,
    shifts_of,
)
from .results import FitResult, value_of
from .rules import RULES, Rule

DRAWS = 200
CHUNK = 64
TOLERANCE = 1e-3  # force out of balance over the load; far below what the errors of a draw do
QUANTILES = (0.05, 0.50, 0.95)
LEAST_SHARE = 0.005  # of the variance; groups below are left out
NOT_NEGATIVE = frozenset({"m2", "Pa", "N"})
SHARES = frozenset({"share", "left_share", "bearing_share", "share_behind_last_rib"})
GAPS = frozenset({"bridge_gap", "largest_gap", "gap_length", "tip_gap"})


def with_uncertainty(
    inputs: FitInputs,
    result: FitResult,
    *,
    errors: Errors | None = None,
    draws: int = DRAWS,
    seed: int | None = None,
) -> FitResult:
    """Return a result with a 90 % band for every measure and the draws behind every finding.

    Parameters
    ----------
    inputs : FitInputs
    result : FitResult
        Of those inputs.
    errors : Errors, optional
        What is known of the inputs' errors; the stated defaults if None.
    draws : int
        How many times the errors are drawn.
    seed : int, optional
        Of the draws; fixed by inputs and errors if None, so that computing again gives the same.

    Returns
    -------
    FitResult
        With `bands`, `narrowing`, `seed`, `draws` and the findings' `share`.
    """
    errors = errors or Errors()
    seed = seed_of(inputs, errors) if seed is None else seed
    sources = sources_of(inputs, errors)
    rows = np.vstack(
        [np.zeros(len(sources)), np.eye(len(sources)), drawn_amounts(seed, draws, len(sources))]
    )
    bands: list[Band] = []
    worst, parts = _Worst(inputs, result.findings, draws), _Parts(result.findings, sources)
    for name, measures, table in _tables(inputs, result, sources, rows):
        drawn = {key: values[-draws:] for key, values in table.items()}
        bands += _bands(name, measures, drawn)
        worst.read(name, drawn)
        parts.read(name, {key: values[:-draws] for key, values in table.items()})
    return replace(
        result,
        bands=tuple(bands),
        narrowing=tuple(parts.narrowing()),
        findings=worst.shared(),
        seed=seed,
        draws=draws,
    )


def _tables(
    inputs: FitInputs, result: FitResult, sources: tuple[Source, ...], rows: Array
) -> Iterator[tuple[str, tuple[Measure, ...], Drawn]]:
    """Yield case by case ("" for the shape) its measures and their values in every row."""
    surface = build_surface(inputs.back, grid=inputs.settings.grid)
    solved = solve_cases(inputs, surface=surface)
    shifts = shifts_of(inputs, sources, surface)
    first = shifts[: len(sources)]
    yield "", result.measures, _shape_table(inputs, result, solved[0], first, rows)
    laws, rows = _laws(inputs, sources, rows), parted(rows, shifts)
    known = {case.name: case.measures for case in result.cases}
    read = {finding.case for finding in result.findings}
    height = getattr(inputs.tree, "gullet_height", None)
    for group in _on_one_back(solved):
        responses = responses_of(inputs, group, shifts, height)
        for one, response in zip(group, responses, strict=True):
            cells = Cells(response, _inward(response), inputs.back.last_rib)
            # Sources are moved one by one only where a finding is told from.
            alone = 1 + len(sources) if one.case.name in read else 1
            picked = np.r_[:alone, 1 + len(sources) : len(rows)]
            table = _joined(list(_solved_rows(cells, laws.take(picked), rows[picked])))
            measures = known[one.case.name]
            yield one.case.name, measures, _levelled(measures, table)


def _on_one_back(solved: tuple[Solved, ...]) -> list[list[Solved]]:
    """Load cases by the shape of back they are on."""
    groups: dict[int, list[Solved]] = defaultdict(list)
    for one in solved:
        groups[id(one.placed)].append(one)
    return list(groups.values())


def _shape_table(
    inputs: FitInputs, result: FitResult, first: Solved, shifts: tuple[Shift, ...], rows: Array
) -> Drawn:
    base, changes = shape_shifts(inputs, shifts, first.placed, first.surface)
    table = {(m.code, m.zone, m.side): rows @ changes[:, i] for i, m in enumerate(base)}
    if inputs.horse_mass:
        carried = np.array([shift.inputs.loads.carried_mass for shift in shifts])
        horse = np.array([shift.inputs.horse_mass or 0.0 for shift in shifts])
        heavier = inputs.loads.carried_mass + rows @ (carried - inputs.loads.carried_mass)
        table["load_ratio", "", ""] = heavier / (
            inputs.horse_mass + rows @ (horse - inputs.horse_mass)
        )
    return _levelled(result.measures, table)


@dataclass(frozen=True, eq=False)
class _Laws:
    """The layers' law without error, and each row's factors on pressure and compression."""

    law: LayerLaw
    factor: Array
    stretch: Array

    def take(self, rows: Array | slice) -> _Laws:
        """Return those of some rows."""
        return _Laws(self.law, self.factor[rows], self.stretch[rows])


def _laws(inputs: FitInputs, sources: tuple[Source, ...], rows: Array) -> _Laws:
    giving = [k for k, source in enumerate(sources) if source.group == "layers"]
    own = tuple(sources[k] for k in giving)
    drawn = [drawn_inputs(inputs, own, row[giving]).layers for row in rows]
    return _Laws(inputs.layers.law(), *matched(inputs.layers, drawn))


def _solved_rows(cells: Cells, laws: _Laws, rows: Array) -> Iterator[Drawn]:
    for first in range(0, len(rows), CHUNK):
        pick = slice(first, first + CHUNK)
        yield _solved_chunk(cells, laws.take(pick), rows[pick])


def _solved_chunk(cells: Cells, laws: _Laws, rows: Array) -> Drawn:
    """Measures of some rows: their contact solved in compressions of the nominal law."""
    r, stretch = cells.response, laws.stretch
    overlap = r.overlap + rows @ r.d_overlap
    cover = np.clip(r.cover + rows @ r.d_cover, 0.0, 1.0)
    load = r.load + rows @ r.d_load
    stiffness = r.stiffness + np.tensordot(rows, r.d_stiffness, 1)
    under = np.flatnonzero(cover.any(axis=0))
    wide = stretch[:, None, None]
    batch = ContactBatch(
        overlap=overlap[:, under] / stretch[:, None],
        rows=r.rows[under],
        area=(r.placed.patch.area * cover)[:, under],
        law=laws.law,
        load=load,
        pose_stiffness=stiffness * wide,
        pressure_scale=laws.factor,
    )
    start = np.zeros_like(load)
    found = solve_contact(batch, tolerance=TOLERANCE, start=start, chunk=CHUNK, strict=False)
    turn = found.pose * stretch[:, None]
    pressure = np.zeros_like(overlap)
    pressure[:, under] = found.pressure * (cover[:, under] > 0)
    shape = (len(rows), *cells.shape)
    measured = cells.measured(
        DrawnCase(
            pressure=pressure.reshape(shape),
            overlap=(overlap + turn @ r.rows.T).reshape(shape),
            cover=cover.reshape(shape),
            turn=turn,
            load=load - np.matmul(stiffness, turn[:, :, None])[:, :, 0],
            stiffness=found.stiffness / wide - stiffness,
            margin=found.margin,
            tip=r.tip + rows @ r.d_tip,
            bearing=r.bearing + np.tensordot(rows, r.d_bearing, 1),
            reach=r.reach + rows @ r.d_reach,
            clearance=r.clearance + rows @ r.d_clearance,
        )
    )
    return _without_lost(measured, found.status != 0)


def _without_lost(measured: Drawn, lost: Array) -> Drawn:
    """Rows that found no balance have no measures, but no stability either."""
    if not lost.any():
        return measured
    margin = np.where(lost, np.minimum(measured["stability_margin", "", ""], 0.0), np.nan)
    out = {key: np.where(lost, np.nan, values) for key, values in measured.items()}
    kept = out["stability_margin", "", ""]
    out["stability_margin", "", ""] = np.where(lost, margin, kept)
    return out


def _inward(response: Response) -> Array:
    """Share of each coarse cell on the inner half of its bar (N,)."""
    placed = response.placed
    patch = placed.patch
    y = np.abs(patch.points[:, 1])
    x = patch.points[:, 0].reshape(patch.shape)[0, :, 0] - placed.tip
    middles = np.concatenate([np.mean(placed.face.edges(side, x), axis=0) for side in range(2)])
    middle = np.repeat(middles, patch.shape[2])
    return np.asarray(np.clip((middle - y) / patch.step_y + 0.5, 0.0, 1.0), float)


def _joined(parts: list[Drawn]) -> Drawn:
    return {key: np.concatenate([part[key] for part in parts]) for key in parts[0]}


def _levelled(measures: tuple[Measure, ...], table: Drawn) -> Drawn:
    """Rows relative to the first, which is without error, added to the evaluation's values."""
    out: Drawn = {}
    for m in measures:
        key = (m.code, m.zone, m.side)
        if key in table and np.isfinite(table[key][0]):
            level = m.value
            if m.code == "bearing_share":  # more than the whole is cut off at the whole
                whole = table[key][0] / table["bearing_length", "", m.side][0]
                level = value_of(measures, "bearing_length", "", m.side) * float(whole)
            out[key] = _possible(m, level + (table[key] - table[key][0]))
    return out


def _possible(measure: Measure, values: Array) -> Array:
    if measure.code in SHARES:
        return np.clip(values, 0.0, 1.0)
    if measure.unit in NOT_NEGATIVE or measure.code in GAPS:
        return np.maximum(values, 0.0)
    return values


def _bands(name: str, measures: tuple[Measure, ...], drawn: Drawn) -> list[Band]:
    units = {(m.code, m.zone, m.side) for m in measures}
    keys = [key for key in drawn if key in units and np.isfinite(drawn[key]).any()]
    if not keys:
        return []
    values = np.array([drawn[key] for key in keys])
    quantile = np.quantile if np.isfinite(values).all() else np.nanquantile
    ends = quantile(values, QUANTILES, axis=1).T
    return [
        Band(*key, name, float(low), float(middle), float(high))
        for key, (low, middle, high) in zip(keys, ends, strict=True)
    ]


RULE_OF = {rule.code: rule for rule in RULES}


def key_of(finding: Finding) -> Key | None:
    """Return the measure a finding read; None for one without a rule here."""
    rule = RULE_OF.get(finding.code)
    return None if rule is None else (rule.measure, rule.zone, finding.side)


class _Worst:
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


def levels_of(rule: Rule, values: Array) -> Array:
    """Return the level of each value under a rule as a number: 0 plain, 1 watch, 2 beyond."""
    inside = [(low <= values) & (values <= high) for low, high in (rule.plain, rule.beyond)]
    return np.where(inside[0], 0, np.where(inside[1], 1, 2))


class _Parts:
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
        total = variance.sum()
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
