"""Safeguarded semismooth Newton iteration for many tensionless contact problems at once.

Every problem minimises E(q) = sum area Psi(u0 + B q) - f.q + 1/2 q.G q over its pose q. Its
gradient is the force out of balance; the pressure has a kink where contact begins, hence
'semismooth' (L. Qi and J. Sun, A nonsmooth version of Newton's method, Math. Program. 58 (1993)
353-367 [memory]).

A full step is kept when it halves the best residual so far. Otherwise the step is shortened until
the slope of E along it is still downhill but much less so; as E is convex it has then gone down.
The first can happen only a few dozen times and the second always descends, so the iteration ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from .cells import Cells, Index
from .laws import Array
from .quadrature import CellMean

FLATTENING = 0.5  # a shortened step must reduce the slope along it to this share
RUN_AWAY = 10  # steps of a growing residual on end: a load that leans, falling without end
CURVATURE_FLOOR = 1e-4  # regularisation at residual 1; it fades with the residual


@dataclass(frozen=True)
class Problems:
    """P problems of one chunk, ready to iterate, in a pose scaled so that rows are of size one."""

    cells: Cells
    mean: CellMean
    load: Array  # (P, M)
    geometric: Array | None  # (P, M, M)
    size: Array  # (P,) largest component of the load
    reference: Array  # (P,) stiffness of all cells at the mean pressure, secant [N/m]

    def take(self, index: Index) -> Problems:
        """Return some of the problems."""
        return Problems(
            self.cells.take(index),
            self.mean.take(index),
            self.load[index],
            None if self.geometric is None else self.geometric[index],
            self.size[index],
            self.reference[index],
        )

    def external(self, pose: Array) -> Array:
        """Return the load at a pose, (P, M): a load high above the contact shifts as it leans."""
        if self.geometric is None:
            return self.load
        return np.asarray(self.load - np.matmul(self.geometric, pose[:, :, None])[:, :, 0], float)

    def relative(self, gradient: Array) -> Array:
        """Return the size of a generalised force relative to the load, (P,)."""
        return np.asarray(np.abs(gradient).max(axis=1) / self.size, float)


@dataclass(frozen=True)
class Iterate:
    """Where the problems stand."""

    pose: Array
    strain: Array
    stress: Array
    gradient: Array
    stiffness: Array  # (P, M, M) of the contact
    residual: Array

    def like(self, count: int) -> Iterate:
        """Return room for the states of so many problems."""
        return Iterate(*(np.zeros((count, *value.shape[1:])) for value in vars(self).values()))

    def take(self, index: Index) -> Iterate:
        """Return the state of some of the problems."""
        return Iterate(
            self.pose[index],
            self.strain[index],
            self.stress[index],
            self.gradient[index],
            self.stiffness[index],
            self.residual[index],
        )

    def put(self, index: Index, other: Iterate) -> None:
        """Store the state of some of the problems in these arrays."""
        for own, value in zip(vars(self).values(), vars(other).values(), strict=True):
            own[index] = value


class Iteration(Protocol):
    """What `iterate` is, and its compiled twin."""

    def __call__(
        self,
        problems: Problems,
        strain: Array,
        pose: Array,
        *,
        tolerance: float,
        max_iterations: int,
    ) -> tuple[Iterate, NDArray[np.int64]]:
        """Return where every problem came to stand and the steps it took."""


def stand(problems: Problems, pose: Array, strain: Array) -> Iterate:
    """Evaluate the forces at a pose whose strain is known."""
    stress, tangent = problems.mean.respond(strain)
    gradient = problems.cells.resultant(stress) - problems.external(pose)
    stiffness = problems.cells.stiffness(tangent)
    return Iterate(pose, strain, stress, gradient, stiffness, problems.relative(gradient))


def iterate(
    problems: Problems, strain: Array, pose: Array, *, tolerance: float, max_iterations: int
) -> tuple[Iterate, NDArray[np.int64]]:
    """Return where every problem came to stand and the steps it took (P,).

    ``strain`` (P, G N) is that at zero pose. Problems leave the arrays as they converge, so that
    finished ones cost nothing. The caller judges the residual: a problem that runs out of steps,
    or away, comes back where it stood.
    """
    index, final = np.arange(len(pose)), None
    moved = problems.cells.strain(pose)
    moved += strain
    now = stand(problems, pose, moved)
    steps = np.zeros(len(pose), dtype=np.int64)
    best, rising = now.residual, np.zeros(len(pose), dtype=np.int64)
    for _ in range(max_iterations):
        done = (now.residual <= tolerance) | (rising >= RUN_AWAY)
        if np.all(done):
            break
        if np.any(done):
            final = now.like(len(pose)) if final is None else final
            final.put(index[done], now.take(np.flatnonzero(done)))
            going = np.flatnonzero(~done)
            index, best, rising = index[going], best[going], rising[going]
            problems, now = problems.take(going), now.take(going)
        before, now = now.residual, _advance(problems, now, best)
        rising = np.where(now.residual > before, rising + 1, 0)
        best = np.minimum(best, now.residual)
        steps[index] += 1
    if final is None:  # all came to the end together: nothing to gather
        return now, steps
    final.put(index, now)
    return final, steps


def _advance(problems: Problems, now: Iterate, best: Array) -> Iterate:
    step = newton_step(problems, now)
    strain = problems.cells.strain(step)
    strain += now.strain
    new = stand(problems, now.pose + step, strain)
    poor = np.flatnonzero(~(new.residual <= 0.5 * best))
    if not len(poor):
        return new
    length = np.ones(len(best))
    length[poor] = step_length(problems.take(poor), now.take(poor), new.take(poor))
    if np.all(length == 1.0):
        return new
    pose = now.pose + length[:, None] * step
    return stand(problems, pose, now.strain + length[:, None] * (new.strain - now.strain))


def newton_step(problems: Problems, now: Iterate) -> Array:
    """Return the regularised Newton step (P, M); downhill even where the tangent is singular."""
    damped = (
        now.stiffness.copy() if problems.geometric is None else now.stiffness + problems.geometric
    )
    count = damped.shape[1]
    trace = np.einsum("pii->p", now.stiffness) / count + problems.reference
    damping = CURVATURE_FLOOR * np.minimum(now.residual, 1.0) + 1e-15
    damped.reshape(-1, count * count)[:, :: count + 1] += (damping * trace)[:, None]
    step = np.linalg.solve(damped, -now.gradient[:, :, None])[:, :, 0]
    if problems.geometric is not None:
        uphill = np.flatnonzero(np.sum(step * now.gradient, axis=1) >= 0.0)
        if len(uphill):
            step[uphill] = _bent_step(damped[uphill], -now.gradient[uphill])
    return np.asarray(step, float)


def _bent_step(stiffness: Array, force: Array) -> Array:
    """Newton step with the curvature's sign mended: the eigenvalues' absolute values."""
    values, vectors = np.linalg.eigh(stiffness)
    size = np.maximum(np.abs(values), 1e-8 * np.max(np.abs(values), axis=1, keepdims=True))
    inside = np.matmul(vectors.transpose(0, 2, 1), force[:, :, None])[:, :, 0] / size
    return np.asarray(np.matmul(vectors, inside[:, :, None])[:, :, 0], float)


def step_length(problems: Problems, now: Iterate, new: Iterate) -> Array:
    """Return the share (P,) of each step to take: a near minimum of E along it, from below.

    Bracketing by regula falsi with the Illinois change (M. Dowell and P. Jarratt, BIT 11 (1971)
    168-174 [memory]) on the slope of E along the step.
    """
    step, slide = new.pose - now.pose, new.strain - now.strain
    start = np.sum(now.gradient * step, axis=1)
    high_slope = np.sum(new.gradient * step, axis=1)
    low, high = np.zeros(len(start)), np.ones(len(start))
    low_slope = start.copy()
    taken = np.where(high_slope <= 0.0, 1.0, 0.0)
    open_ = np.flatnonzero(high_slope > 0.0)
    for _ in range(60):
        if not len(open_):
            break
        a, b = low_slope[open_], high_slope[open_]
        share = np.clip(a / (a - b), 0.01, 0.99)
        trial = low[open_] + share * (high[open_] - low[open_])
        slope = _slope(problems.take(open_), now.take(open_), step[open_], slide[open_], trial)
        below = slope <= 0.0
        rose, fell = open_[below], open_[~below]
        low[rose], low_slope[rose] = trial[below], slope[below]
        high[fell], high_slope[fell] = trial[~below], slope[~below]
        high_slope[rose] *= 0.5
        low_slope[fell] *= 0.5
        done = below & (slope >= FLATTENING * start[open_])
        taken[open_[below]] = trial[below]
        open_ = open_[~done]
    return taken


def _slope(problems: Problems, now: Iterate, step: Array, slide: Array, share: Array) -> Array:
    part = share[:, None]
    stress, _ = problems.mean.respond(now.strain + part * slide)
    gradient = problems.cells.resultant(stress) - problems.external(now.pose + part * step)
    return np.asarray(np.sum(gradient * step, axis=1), float)
