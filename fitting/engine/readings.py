"""From a settled load case to its fields and measures."""

from __future__ import annotations

import numpy as np

from .flexible import bending_measures
from .inputs import FitInputs, Solved
from .loads import forces_of
from .measures import (
    Field,
    Layout,
    Measure,
    balance_measures,
    field_of,
    gap_measures,
    layout_of,
    load_measures,
    row_gap,
    support_measures,
    whole_grid,
)
from .profiles import SIDES
from .results import CaseResult, value_of
from .sections import withers_clearance
from .trees import PanelTree, Tree, TwoBarTree

STRIDE_MEANS = ("mean_pressure", "noted_area")


def case_results(inputs: FitInputs, solved: tuple[Solved, ...]) -> tuple[CaseResult, ...]:
    """Return what each load case gives, in the same order."""
    trees = {id(one.placed): one.placed for one in solved}
    laid = {key: layout_of(placed) for key, placed in trees.items()}
    return tuple(_case_result(inputs, one, laid[id(one.placed)]) for one in solved)


def _case_result(inputs: FitInputs, one: Solved, layout: Layout) -> CaseResult:
    placed, settled, k = one.placed, one.settled, one.index
    cells = field_of(placed, settled, k, layout)
    gaps = np.where(settled.cover[k] > 0, -settled.overlap[k], np.nan)
    rows = np.full(one.surface.z.shape[:2], np.nan)
    rows[:, placed.patch.rows] = [row_gap(cells, side) for side in range(2)]
    return CaseResult(
        name=one.case.name,
        title=one.case.title,
        pose=tuple(float(v) for v in settled.pose[k]),  # type: ignore[arg-type]
        pressure=whole_grid(cells.pressure.reshape(-1), placed.patch, one.surface, 0.0),
        gap=whole_grid(gaps, placed.patch, one.surface, np.nan),
        row_gap=rows,
        residual=float(settled.residual[k]),
        iterations=int(settled.iterations[k]),
        measures=case_measures(inputs, one, cells),
        short=one.case.short,
    )


def case_measures(inputs: FitInputs, one: Solved, cells: Field) -> tuple[Measure, ...]:
    """Return every measure of one load case.

    Notes
    -----
    Where a case is the highest moment of a stride its mean pressures are left out: published ones
    are means over the stride, which the rider's plain weight gives.
    """
    measures = [
        *load_measures(cells),
        *support_measures(cells, inputs.back.last_rib),
        *gap_measures(cells),
        *balance_measures(one.placed, one.settled, one.index, cells),
        Measure("friction_demand", _friction(inputs, one), "1"),
    ]
    measures += _further(inputs, one, tuple(measures))
    if one.case.factor != 1.0:
        return tuple(m for m in measures if m.code not in STRIDE_MEANS)
    return tuple(measures)


def _friction(inputs: FitInputs, one: Solved) -> float:
    """Level part of the forces over the part pressing down: what has to be held from sliding."""
    level = np.zeros(2)
    for force in forces_of(inputs.loads, inputs.tree, one.case):
        level += force.force[:2]
    return float(np.hypot(*level) / one.settled.load[one.index, 0])


def _further(inputs: FitInputs, one: Solved, taken: tuple[Measure, ...]) -> list[Measure]:
    """Measures made of others: bearing length over the bearing part, left share, withers."""
    out = [Measure("left_share", value_of(taken, "share", "", "left"), "1")]
    out += bending_measures(one.placed, one.settled, one.index)
    for side, name in enumerate(SIDES):
        span = float(np.diff(one.placed.face.bearing[side])[0])
        length = value_of(taken, "bearing_length", "", name)
        if np.isfinite(length):
            out.append(Measure("bearing_share", min(length / span, 1.0), "1", side=name))
    height = _arch_height(inputs.tree)
    if height is not None and one.case == inputs.cases[0]:
        clearance = withers_clearance(one.placed, one.pose, one.surface, height)
        if clearance is not None:
            out.append(Measure("withers_clearance", clearance, "m"))
    return out


def _arch_height(tree: Tree) -> float | None:
    return tree.gullet_height if isinstance(tree, TwoBarTree | PanelTree) else None
