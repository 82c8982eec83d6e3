"""Contact of a body with the back through a layer that pushes and never pulls.

Conventions: the pose ``q`` is small (heave, pitch, roll for a tree; the solver takes any number of
components, the first of which presses every cell). A cell's overlap is ``u = u0 + B q`` [m], along
its own normal; a row of B is the normal's work per unit of pose, so that a pressure p on area A
puts the generalised force ``A p B`` on the body. In balance that sum equals the load ``f - G q``.

A cell may be given a *spread* r, the range of overlap across it. It then pushes with the mean of
the law over that range, so that the edge of contact may run through a cell. Where it does,
'pressure times gap is zero' holds point by point inside the cell: the part with overlap below zero
carries nothing, and a cell carries nothing at all once its deepest point ``u + r/2`` is open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from .batch import ContactBatch, checked_batch
from .cells import Cells, lay_out
from .compiled import in_threads, iteration
from .compiled import iterate as compiled_iterate
from .errors import EngineError, NotConverged, StabilityLost
from .feasibility import feasible_load, outside_support, support_margin
from .laws import Array
from .newton import Iterate, Iteration, Problems
from .quadrature import CellMean
from .stability import stability_margin
from .starts import bonded_pose, nearer_pose, unit_law

__all__ = [
    "CONVERGED",
    "OUTSIDE",
    "UNFINISHED",
    "UNSTABLE",
    "ContactBatch",
    "ContactSolution",
    "contact_chunks",
    "feasible_load",
    "solve_contact",
]

CONVERGED, OUTSIDE, UNSTABLE, UNFINISHED = 0, 1, 2, 3
STARTED_TOGETHER = 4  # chunks: starts need less memory, and calls cost as much for few as for many


@dataclass(frozen=True)
class Run:
    """How to iterate, when to stop, and how many problems to solve together."""

    iterate: Iteration
    tolerance: float
    max_iterations: int
    chunk: int


@dataclass(frozen=True)
class ContactSolution:
    """Balanced poses and what the cells carry.

    Attributes
    ----------
    pose : (P, M) array
        q.
    overlap : (P, N) array
        u0 + B q at the middle of each cell; negative is a gap [m].
    pressure : (P, N) array
        Mean over the cell, along its normal [Pa].
    contact : (P, N) array
        Share of the cell in contact, 0 to 1.
    residual : (P,) array
        Largest force out of balance over the load, moments by the rows' root mean square.
    iterations : (P,) array
        Newton steps on all cells.
    stiffness : (P, M, M) array
        Tangent of contact and pose stiffness together at the solution.
    margin : (P,) array
        Least of x.(K + G)x / x.(K + G+)x, with K the contact's tangent and G+ the part of G that
        resists: 1 where nothing leans, 0 when stability is lost. Also 0 when nothing at all
        resists some direction.
    status : (P,) array
        0 balanced, 1 load outside the support, 2 stability lost, 3 not converged.
    """

    pose: Array
    overlap: Array
    pressure: Array
    contact: Array
    residual: Array
    iterations: NDArray[np.int64]
    stiffness: Array
    margin: Array
    status: NDArray[np.int64]


def solve_contact(
    batch: ContactBatch,
    *,
    tolerance: float = 1e-10,
    max_iterations: int = 60,
    start: Array | None = None,
    chunk: int = 64,
    strict: bool = True,
    compiled: bool | None = None,
) -> ContactSolution:
    """Find the poses in which pressures and loads balance.

    Parameters
    ----------
    batch : ContactBatch
        The problems.
    tolerance : float
        Force out of balance, relative to the load.
    max_iterations : int
        Newton steps allowed.
    start : (P, M) array, optional
        Poses to start from; by default those of a layer that also pulls.
    chunk : int
        Problems solved together; bounds the memory.
    strict : bool
        Raise at the first problem that has no answer; if False, mark it in ``status``.
    compiled : bool, optional
        Iterate in compiled code, the same numbers sooner; by default what `compiled.prefer` chose
        for this process, which is no until it was asked.

    Returns
    -------
    ContactSolution

    Raises
    ------
    InvalidShape
        If shapes disagree or a number isn't finite.
    LoadOutsideSupport, StabilityLost, NotConverged
        If ``strict`` and a problem has no balanced pose, or none was found.
    """
    chunks = contact_chunks(
        batch,
        tolerance=tolerance,
        max_iterations=max_iterations,
        start=start,
        chunk=chunk,
        strict=strict,
        compiled=compiled,
    )
    return _joined(list(chunks))


def contact_chunks(
    batch: ContactBatch,
    *,
    tolerance: float = 1e-10,
    max_iterations: int = 60,
    start: Array | None = None,
    chunk: int = 64,
    strict: bool = True,
    compiled: bool | None = None,
) -> Iterator[ContactSolution]:
    """Yield the solutions of `solve_contact` chunk by chunk, for callers who keep only numbers.

    The pressures of thousands of draws would fill the memory; those of one chunk don't.
    """
    batch = checked_batch(batch, start)
    given = None if start is None else np.asarray(start, float)
    run = Run(iteration(compiled), tolerance, max_iterations, chunk)
    shared = _cells(batch) if batch.rows.ndim == 2 and batch.area.ndim == 1 else None
    is_compiled = run.iterate is compiled_iterate
    together = chunk
    if shared is not None and batch.groups == 1 and not is_compiled:
        together = STARTED_TOGETHER * chunk

    def solved(part: slice) -> Iterator[ContactSolution]:
        block = batch.pick(part) if len(batch.overlap) > together else batch
        cells = _cells(block) if shared is None else shared.take(part)
        solutions = _solve_block(block, cells, None if given is None else given[part], run)
        for first, solution in zip(range(part.start, part.stop, chunk), solutions, strict=False):
            if strict:
                _raise_first_failure(batch.pick(slice(first, first + chunk)), solution, first)
            yield solution

    parts = [slice(at, at + together) for at in range(0, len(batch.overlap), together)]
    if is_compiled:
        yield from chain.from_iterable(in_threads(lambda part: list(solved(part)), parts))
    else:
        yield from chain.from_iterable(map(solved, parts))


def _row_units(rows: Array) -> Array:
    """Root mean square of each component of the rows, (M,) or (P, M); 1 for one of no effect."""
    size = np.sqrt(np.mean(rows * rows, axis=-2))
    return np.where(size > 1e-12 * np.max(size, axis=-1, keepdims=True), size, 1.0)


def _cells(batch: ContactBatch) -> Cells:
    """Lay the cells out in the pose times its unit, with a linear modulus in their areas."""
    unit = _row_units(batch.rows)
    rows = batch.all_rows() / (unit if unit.ndim == 1 else unit[:, None, None, :])
    area = batch.area * unit_law(batch.law)[1]
    return lay_out(rows, area, batch.pressure_scale, len(batch.load))


def _problems(batch: ContactBatch, unit: Array, cells: Cells) -> Problems:
    """Make the chunk ready for the iteration, in the pose times its unit."""
    load = batch.load / unit
    geometric = batch.pose_stiffness
    if geometric is not None:
        scaled = geometric / (unit[..., :, None] * unit[..., None, :])
        geometric = np.broadcast_to(scaled, (len(load), *scaled.shape[-2:]))
    total = batch.total_area()
    mean = load[:, 0] / total
    return Problems(
        cells=cells,
        mean=CellMean(unit_law(batch.law)[0], batch.groups),
        load=load,
        geometric=geometric,
        size=np.abs(load).max(axis=1),
        reference=total * mean / batch.law.compression(mean),
    )


def _turned(strain: Array) -> NDArray[np.bool_]:
    """Cells whose overlap changes more across than along; decided once, to keep E smooth."""
    _, along, across = np.split(np.abs(strain), 3, axis=1)
    return np.asarray(across > along)


def _solve_block(
    batch: ContactBatch, cells: Cells, start: Array | None, run: Run
) -> Iterator[ContactSolution]:
    """Start all problems together, then solve them chunk by chunk."""
    pulling = batch.load[:, 0] <= 0.0
    if np.any(pulling):
        push = np.where(pulling[:, None], np.eye(1, batch.load.shape[1]), batch.load)
        batch = replace(batch, load=push)
    unit = _row_units(batch.rows)
    problems, strain = _problems(batch, unit, cells), batch.strain()
    # Bonded cells also decide which are turned, so that it hangs on no start.
    begin = pose = None if start is None else start * unit
    if pose is None or batch.groups == 3:
        pose = bonded_pose(batch, problems, strain)
    if batch.groups == 3:
        turned = _turned(strain + cells.strain(pose))
        problems = replace(problems, mean=replace(problems.mean, turned=turned))
    if begin is None:
        begin = nearer_pose(batch, problems, unit, strain, pose, run.iterate)
    for first in range(0, len(begin), run.chunk):
        pick = slice(first, first + run.chunk)
        one = len(begin) <= run.chunk
        part, own = (batch, problems) if one else (batch.pick(pick), problems.take(pick))
        final, steps = run.iterate(
            own,
            strain[pick],
            begin[pick],
            tolerance=run.tolerance,
            max_iterations=run.max_iterations,
        )
        solution = _described(part, own, unit if unit.ndim == 1 else unit[pick], final, steps)
        solution = _judged(part, solution, run.tolerance)
        yield _voided(solution, pulling[pick]) if np.any(pulling[pick]) else solution


def _described(
    batch: ContactBatch,
    problems: Problems,
    unit: Array,
    final: Iterate,
    steps: NDArray[np.int64],
) -> ContactSolution:
    stiffness = final.stiffness
    total = stiffness if problems.geometric is None else stiffness + problems.geometric
    middles = batch.overlap.shape[1]
    pressure = final.stress[:, :middles]
    pressure *= unit_law(batch.law)[1]
    if batch.pressure_scale is not None:
        pressure *= batch.pressure_scale[:, None]
    return ContactSolution(
        pose=final.pose / unit,
        overlap=final.strain[:, :middles],
        pressure=pressure,
        contact=problems.mean.share(final.strain),
        residual=final.residual,
        iterations=steps,
        stiffness=total * (unit[..., :, None] * unit[..., None, :]),
        margin=stability_margin(stiffness, problems.geometric),
        status=np.zeros(len(steps), dtype=np.int64),
    )


def _judged(batch: ContactBatch, solution: ContactSolution, tolerance: float) -> ContactSolution:
    """Mark what isn't balanced with the reason."""
    status = solution.status.copy()
    # One more digit than asked is lost when the overlap is recomputed from the pose.
    balanced = solution.residual <= max(10.0 * tolerance, 1e-12)
    for problem in np.flatnonzero(~balanced):
        inside = support_margin(batch.pick(slice(problem, problem + 1)))
        if inside <= 0.0:
            status[problem] = OUTSIDE
        elif batch.pose_stiffness is not None and not solution.margin[problem] > 0.0:
            status[problem] = UNSTABLE
        else:
            status[problem] = UNFINISHED
    if batch.pose_stiffness is not None:
        status[balanced & (solution.margin < 0.0)] = UNSTABLE
    return replace(solution, status=status)


def _voided(solution: ContactSolution, pulling: NDArray[np.bool_]) -> ContactSolution:
    """The answer of a batch in which some loads pull: nothing can balance those."""
    status = np.where(pulling, OUTSIDE, solution.status)
    residual = np.where(pulling, np.inf, solution.residual)
    pose = np.where(pulling[:, None], np.nan, solution.pose)
    pressure = np.where(pulling[:, None], np.nan, solution.pressure)
    return replace(solution, status=status, residual=residual, pose=pose, pressure=pressure)


def _raise_first_failure(batch: ContactBatch, part: ContactSolution, first: int) -> None:
    failed = np.flatnonzero(part.status)
    if len(failed):
        here = int(failed[0])
        raise _failure(batch, part, here, first + here)


def _failure(batch: ContactBatch, part: ContactSolution, here: int, problem: int) -> EngineError:
    margin, residual = float(part.margin[here]), float(part.residual[here])
    if part.status[here] == OUTSIDE:
        return outside_support(batch.pick(slice(here, here + 1)), problem)
    if part.status[here] == UNSTABLE:
        return StabilityLost(
            f"the load leans faster than the contact resists (margin {margin:.3g})",
            margin=margin,
            problem=problem,
        )
    return NotConverged(
        f"forces out of balance by {residual:.2g} of the load after {part.iterations[here]} steps",
        residual=residual,
        iterations=int(part.iterations[here]),
        problem=problem,
    )


def _joined(parts: list[ContactSolution]) -> ContactSolution:
    if len(parts) == 1:
        return parts[0]

    def together(name: str) -> Array | None:
        values = [getattr(part, name) for part in parts]
        return None if values[0] is None else np.concatenate(values)

    names = ContactSolution.__dataclass_fields__
    return ContactSolution(**{name: together(name) for name in names})  # type: ignore[arg-type]
