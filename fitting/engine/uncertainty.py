"""How far the numbers of an evaluation may be off, from what is known of its inputs' errors.

Draws of all sources of error (`draws`) are carried to the measures by solving their contact anew,
on every third row of cells, about the poses the evaluation settled in (`response`). A draw's
measures are taken relative to those without error on the same cells, and added to the evaluation's
own. The share of a measure's variance that comes from each group of inputs is found by moving every
source by one standard deviation in turn: the law of propagation of uncertainty, JCGM 100:2008,
5.1.2 [memory], u^2(y) = sum (dy/dx_i u_i)^2. Only the draws' measures are kept, one case at a time.

A tree that bends, or holds no shape, is evaluated whole for each draw, so for fewer of them, and
its variance is not parted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from .bands import Band
from .contact import ContactBatch, solve_contact
from .drawn import CoarseCells, Drawn, DrawnCase
from .drawn_findings import Parts, Worst
from .draws import Source, drawn_amounts, drawn_inputs, seed_of, sources_of
from .errors import EngineError
from .evaluate import evaluate_fit, solve_cases
from .geometry import build_surface
from .inputs import FitInputs, Solved
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
from .trees import FlexibleTree, FramelessTree

DRAWS, WHOLE_DRAWS = 200, 40
CHUNK = 64
TOLERANCE = 1e-3  # force out of balance over the load; far below what the errors of a draw do
QUANTILES = (0.05, 0.50, 0.95)
NOT_NEGATIVE = frozenset({"m2", "Pa", "N"})
SHARES = frozenset({"share", "left_share", "bearing_share", "share_behind_last_rib"})
GAPS = frozenset({"bridge_gap", "largest_gap", "gap_length"})


def with_uncertainty(
    inputs: FitInputs,
    result: FitResult,
    *,
    draws: int = DRAWS,
    seed: int | None = None,
) -> FitResult:
    """Return a result with a 90 % band for every measure and the draws behind every finding.

    Parameters
    ----------
    inputs : FitInputs
        With what is known of their `errors`.
    result : FitResult
        Of those inputs.
    draws : int
        How many times the errors are drawn; at most `WHOLE_DRAWS` for trees that bend.
    seed : int, optional
        Of the draws; fixed by the inputs if None, so that computing again gives the same.

    Returns
    -------
    FitResult
        With `bands`, `narrowing`, `seed`, `draws` and the findings' `share`.
    """
    seed = seed_of(inputs) if seed is None else seed
    sources = sources_of(inputs)
    if isinstance(inputs.tree, FlexibleTree | FramelessTree):
        draws = min(draws, WHOLE_DRAWS)
    rows = np.vstack(
        [np.zeros(len(sources)), np.eye(len(sources)), drawn_amounts(seed, draws, len(sources))]
    )
    bands: list[Band] = []
    worst, parts = Worst(inputs, result.findings, draws), Parts(result.findings, sources)
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
    if isinstance(inputs.tree, FlexibleTree | FramelessTree):
        yield from whole_tables(inputs, result, sources, rows[1 + len(sources) :])
        return
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
            cells = CoarseCells(response, _inward(response), inputs.back.last_rib)
            # Sources are moved one by one only where a finding is told from.
            alone = 1 + len(sources) if one.case.name in read else 1
            picked = np.r_[:alone, 1 + len(sources) : len(rows)]
            table = _joined(list(_solved_rows(cells, laws.take(picked), rows[picked])))
            measures = known[one.case.name]
            yield one.case.name, measures, _levelled(measures, table)


def whole_tables(
    inputs: FitInputs, result: FitResult, sources: tuple[Source, ...], rows: Array
) -> Iterator[tuple[str, tuple[Measure, ...], Drawn]]:
    """Yield as `_tables` what whole evaluations of drawn inputs give; nan where there is none."""
    found = [_evaluated(drawn_inputs(inputs, sources, row)) for row in rows]
    for name, measures in [("", result.measures), *((c.name, c.measures) for c in result.cases)]:
        read = [() if one is None else _measures_of(one, name) for one in found]
        keys = [(m.code, m.zone, m.side) for m in measures]
        yield name, measures, {key: np.array([value_of(m, *key) for m in read]) for key in keys}


def _evaluated(inputs: FitInputs) -> FitResult | None:
    try:
        return evaluate_fit(inputs)
    except EngineError:
        return None


def _measures_of(result: FitResult, case: str) -> tuple[Measure, ...]:
    if not case:
        return result.measures
    return next((one.measures for one in result.cases if one.name == case), ())


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


def _solved_rows(cells: CoarseCells, laws: _Laws, rows: Array) -> Iterator[Drawn]:
    for first in range(0, len(rows), CHUNK):
        pick = slice(first, first + CHUNK)
        yield _solved_chunk(cells, laws.take(pick), rows[pick])


def _solved_chunk(cells: CoarseCells, laws: _Laws, rows: Array) -> Drawn:
    """Measures of some rows: their contact solved in compressions of the nominal law."""
    r, stretch = cells.response, laws.stretch
    overlap = r.overlap + rows @ r.d_overlap
    cover = np.clip(r.cover + rows @ r.d_cover, 0.0, 1.0)
    load = r.load + rows @ r.d_load
    stiffness = r.stiffness + np.tensordot(rows, r.d_stiffness, 1)
    under = np.flatnonzero(cover.any(axis=0))
    wide = stretch[:, None, None]
    leaning = stiffness + r.turning * (laws.factor[:, None, None] / wide)
    batch = ContactBatch(
        overlap=overlap[:, under] / stretch[:, None],
        rows=r.rows[under],
        area=(r.placed.patch.area * cover)[:, under],
        law=laws.law,
        load=load,
        pose_stiffness=leaning * wide,
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
            stiffness=found.stiffness / wide - leaning,
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
    out = {key: np.where(lost, np.nan, values) for key, values in measured.items()}
    margin = measured["stability_margin", "", ""]
    out["stability_margin", "", ""] = np.where(lost, np.minimum(margin, 0.0), margin)
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
