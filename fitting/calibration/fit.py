"""Least squares over the assumptions: as near to the experiments as they go, and what stays open.

Every assumption is held to its believed value by its own spread, as if it had been measured that
well (a Gaussian prior, so the sum of squares is that of the posterior's mode). Where the range of
an assumption after the fit is as wide as before it, the experiments do not tell.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from fitting.calibration.experiments import DATA, World, experiments
from fitting.calibration.subjects import Guess
from fitting.engine import EngineError

Array = NDArray[np.float64]
LOST = 10.0  # spreads by which every experiment is off where the tree has no balance
STEP = 0.1  # [spreads] for differences, well above the solver's own noise
PROFILE = (-2.0, -1.0, 1.0, 2.0)  # [spreads] at which a parameter is held
PROFILED = ("tissue_modulus", "tissue_scale", "flock_modulus", "rider_height")


@dataclass(frozen=True)
class Parameter:
    """One fitted assumption: believed value and spread (of the logarithm where `is_log`)."""

    name: str
    value: float
    spread: float
    is_log: bool
    unit: str
    title: str
    source: str

    def at(self, z: float) -> float:
        """Return the value `z` spreads from the believed one."""
        if self.is_log:
            return self.value * math.exp(self.spread * z)
        return self.value + self.spread * z


@dataclass(frozen=True)
class Fit:
    """A fit in spreads from what was believed: best point, its covariance and sum of squares."""

    z: Array
    covariance: Array
    misfit: float

    def guess(self) -> Guess:
        """Return the best values."""
        return guess_at(self.z)


def parameters() -> tuple[Parameter, ...]:
    """Return the fitted assumptions, in the file's order."""
    rows = tomllib.loads((DATA / "parameters.toml").read_text(encoding="utf-8"))
    return tuple(Parameter(name=name, **row) for name, row in rows.items())


PARAMETERS = parameters()
FITTED = tuple(e for e in experiments() if e.role == "fitted")


def guess_at(z: Array) -> Guess:
    """Return the values at spreads from what was believed (n,)."""
    return Guess(**{p.name: p.at(float(v)) for p, v in zip(PARAMETERS, z, strict=True)})


def off_by(z: Array, *, zeroed: bool = True) -> Array:
    """Return how many spreads each fitted experiment is off."""
    world = World(guess_at(z), zeroed=zeroed)
    try:
        return np.array([row.off(world.model(row.model)) for row in FITTED])
    except EngineError:  # the rider's height tips the tree: no such saddle could be ridden
        return np.full(len(FITTED), LOST)


def fit(held: dict[int, float] | None = None, start: Array | None = None) -> Fit:
    """Return the least-squares fit, with some parameters held at spreads from their belief."""
    held = held or {}
    free = [i for i in range(len(PARAMETERS)) if i not in held]
    full = np.zeros(len(PARAMETERS)) if start is None else start.copy()
    full[list(held)] = list(held.values())

    def residuals(z: Array) -> Array:
        full[free] = z
        return np.concatenate([off_by(full), full])

    def slopes(z: Array) -> Array:
        here = residuals(z)
        return np.column_stack([residuals(z + s) - here for s in STEP * np.eye(len(free))]) / STEP

    found = least_squares(residuals, full[free], jac=slopes, bounds=(-3, 3), max_nfev=6, xtol=5e-3)
    full[free] = found.x
    covariance = np.zeros((len(full), len(full)))
    covariance[np.ix_(free, free)] = np.linalg.inv(found.jac.T @ found.jac)
    return Fit(full, covariance, float(2 * found.cost))


def profile(best: Fit, index: int) -> list[tuple[float, float]]:
    """Return spreads at which one parameter is held, and how much worse all others leave the fit.

    The others start where the fit's own curvature says they go.
    """
    out = [(float(best.z[index]), 0.0)]
    column = best.covariance[:, index] / best.covariance[index, index]
    for z in PROFILE:
        start = np.clip(best.z + column * (z - best.z[index]), -2.9, 2.9)
        out.append((z, fit({index: z}, start=start).misfit - best.misfit))
    return sorted(out)


def open_range(points: list[tuple[float, float]]) -> tuple[float, float]:
    """Return the spreads within which the sum of squares grows by less than one.

    Straight lines between the profile's points in the square root of the growth, which is straight
    where the fit is linear; the profile's end where it is not reached.
    """
    z = np.array([p[0] for p in points])
    root = np.sqrt(np.maximum([p[1] for p in points], 0.0))
    best = int(np.argmin(root))
    low = np.interp(-1.0, -root[: best + 1], z[: best + 1])
    high = np.interp(1.0, np.maximum.accumulate(root[best:]), z[best:])
    return float(low), float(high)
