"""Poses near the balance of many contact problems, found at less cost than Newton steps on it.

Each is a start like any other: what the iteration finds from it balances all cells to the tolerance
asked. Gains are of ``tests/bench/contact.py``: 2 x 80 x 16 cells, 64 problems together, one thread.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from . import newton
from .batch import ContactBatch
from .cells import Cells, OwnCells, SharedCells, lay_out, single_precision
from .laws import Array, LayerLaw, LinearLaw
from .newton import Iterate, Iteration, Problems, newton_step
from .stability import SINGULAR, is_sound, resisting_part

UNIT_LAW = LinearLaw(1.0)
MANY_CELLS = 50_000  # cells of all problems; with fewer, calls cost more than arithmetic
THINNING, THINNED_TOLERANCE = 11, 3e-3  # one cell in so many, balanced to this share of the load
NEAR, NEAR_STEPS = 1e-2, 8  # share of the load and steps in single precision


def unit_law(law: LayerLaw) -> tuple[LayerLaw, float]:
    """Put a linear layer's modulus into the areas: one pass less over the cells."""
    return (UNIT_LAW, law.modulus_per_area) if isinstance(law, LinearLaw) else (law, 1.0)


def bonded_pose(batch: ContactBatch, problems: Problems, strain: Array) -> Array:
    """Return the poses (P, M) if every cell were a spring that also pulls.

    Its modulus is the secant at the mean pressure.
    """
    even = (problems.reference / batch.total_area() / unit_law(batch.law)[1])[:, None]
    whole = _whole(problems.cells, batch)
    if problems.geometric is not None:
        whole = whole + resisting_part(problems.geometric) / even[:, :, None]
    if batch.groups > 1:
        middles = batch.overlap.shape[1]
        strain = strain * np.repeat([1.0, 1 / 12, 1 / 12][: batch.groups], middles)
    force = problems.load / even - problems.cells.resultant(strain)
    if is_sound(whole):
        return np.asarray(np.linalg.solve(whole, force[:, :, None])[:, :, 0], float)
    inverse = np.linalg.pinv(whole, rcond=SINGULAR, hermitian=True)
    return np.asarray(np.matmul(inverse, force[:, :, None])[:, :, 0], float)


def _whole(cells: Cells, batch: ContactBatch) -> Array:
    """Stiffness of all cells at unit modulus, (P, M, M), or (1, M, M) where all are alike."""
    diagonal = [1.0, 0.0, 1 / 12, 0.0, 0.0, 1 / 12][: batch.groups * (batch.groups + 1) // 2]
    weights = np.repeat(diagonal, batch.overlap.shape[1])
    alike = batch.pressure_scale is None and batch.area.ndim == 1
    alike = alike and not isinstance(cells, OwnCells)
    count = 1 if alike else len(batch.load)
    return cells.stiffness(np.broadcast_to(weights, (count, len(weights))))


def nearer_pose(
    batch: ContactBatch,
    problems: Problems,
    unit: Array,
    strain: Array,
    pose: Array,
    iterate: Iteration,
) -> Array:
    """Return poses (P, M) nearer the balance than those given, where seeking them pays."""
    if batch.groups > 1 or batch.overlap.size < MANY_CELLS:
        return pose
    if not isinstance(batch.law, LinearLaw):
        return _thinned_pose(batch, problems, unit, strain, pose, iterate)
    if isinstance(problems.cells, SharedCells) and iterate is newton.iterate:
        return _single_precision_pose(problems, problems.cells, strain, pose)
    return pose


def _thinned_pose(
    batch: ContactBatch,
    problems: Problems,
    unit: Array,
    strain: Array,
    pose: Array,
    iterate: Iteration,
) -> Array:
    """Pose that balances one cell in `THINNING`, each for its share; as given if none does."""
    few = slice(None, None, THINNING)
    kept = np.sum(batch.area[..., few], axis=-1, keepdims=True)
    kept = kept / np.sum(batch.area, axis=-1, keepdims=True)
    if np.any(kept < 0.5 / THINNING):
        return pose
    rows = batch.rows[..., few, :] / unit[..., None, :]
    area = batch.area[..., few] / kept * unit_law(batch.law)[1]
    cells = lay_out(rows[..., None, :, :], area, batch.pressure_scale, len(pose))
    thinned = replace(problems, cells=cells)
    near, _ = iterate(thinned, strain[:, few], pose, tolerance=THINNED_TOLERANCE, max_iterations=6)
    found = near.residual <= THINNED_TOLERANCE
    return np.where(found[:, None], near.pose, pose)


def _single_precision_pose(
    problems: Problems, cells: SharedCells, overlap: Array, start: Array
) -> Array:
    """Pose that nearly balances a linear layer in single precision; as given where none does.

    A linear layer's forces are K q + r with K = sum area B B' and r = sum area u0 B over the cells
    that touch: a step needs no pressures, only which cells those are.
    """
    single = cells.single()
    gap = single_precision(-overlap)
    pose, found, going = start.copy(), start.copy(), np.arange(len(start))
    for _ in range(NEAR_STEPS):
        touching = single_precision(single.strain(pose) > gap)
        stiffness = single.stiffness(touching).astype(float)
        touching *= gap
        force = np.matmul(stiffness, pose[:, :, None])[:, :, 0] - single.resultant(touching)
        force -= problems.external(pose)
        residual = problems.relative(force)
        near = residual <= NEAR
        pose += newton_step(problems, Iterate(pose, gap, gap, force, stiffness, residual))
        if np.any(near):
            found[going[near]] = pose[near]
            rest = np.flatnonzero(~near)
            if not len(rest):
                break
            going, pose, gap = going[rest], pose[rest], gap[rest]
            problems, single = problems.take(rest), single.take(rest)
    return found
