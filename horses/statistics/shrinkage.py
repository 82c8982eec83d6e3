"""What belongs to a tree and what to the horses under it, when there are few of both.

A check's value is mean + tree + horse + what is left over, the last three independent and normal
with mean zero. The tree's part is drawn toward zero the more, the fewer checks and horses speak for
it, so that two sore horses do not condemn a tree. Both spreads are unknown; instead of taking their
best values, answers are averaged over a grid of them, weighted by the restricted likelihood: with
few trees the best value is often zero, which would say that all trees are the same, and surely so.

The value is a mean of scores 0 to 4, ordered words treated as even steps; that is an assumption.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr

Array = NDArray[np.float64]

CONFIDENCE = 0.90
# Spread of trees and of horses over that of repeated checks; flat weight up to the last of them
# (assumption: trees do not differ by more than twice what one horse's checks do).
RATIOS = np.linspace(0.0, 2.0, 11)
FEWEST_GROUPS, FEWEST_VALUES = 2, 6


@dataclass(frozen=True)
class GroupPart:
    """One tree's part: above or below the mean of all, with its 90 % interval.

    `raw` is the plain mean of its values, `horses` and `checks` say how many speak for it, `worse`
    is the probability that its part lies above zero under the model.
    """

    group: Hashable
    checks: int
    horses: int
    raw: float
    part: float
    low: float
    high: float
    worse: float


@dataclass(frozen=True)
class Parts:
    """All trees, with the mean over them; the shares of the spread are averages over the grid."""

    mean: float
    groups: tuple[GroupPart, ...]
    group_share: float
    horse_share: float


@dataclass(frozen=True)
class _Design:
    """Sums that every point of the grid shares; `trees` of the columns are trees, the rest horses.

    `cross` is Z'Z, `sums` Z'1, `with_values` Z'y; `total` and `square` are 1'y and y'y.
    """

    cross: Array
    sums: Array
    with_values: Array
    count: int
    total: float
    square: float
    trees: int


@dataclass(frozen=True)
class Fit:
    """The model at one pair of spread ratios.

    `log_likelihood` is the restricted one with the residual variance at its best, up to a constant;
    `parts` and `variances` are the trees' predictions and their prediction variances.
    """

    log_likelihood: float
    mean: float
    residual_variance: float
    parts: Array
    variances: Array


def parts_of_groups(
    values: Sequence[float], groups: Sequence[Hashable], horses: Sequence[Hashable]
) -> Parts | None:
    """Return each group's part of the values, None with too little to compare.

    Parameters
    ----------
    values : sequence of float
        One for each check.
    groups, horses : sequences of the same length
        The tree it was made under and the horse it was made on.
    """
    y = np.asarray(values, float)
    trees, animals = list(dict.fromkeys(groups)), list(dict.fromkeys(horses))
    if len(trees) < FEWEST_GROUPS or len(y) < FEWEST_VALUES:
        return None
    design = _design(y, _codes(groups, trees), _codes(horses, animals), len(trees), len(animals))
    grid = [(a, b) for a in RATIOS for b in RATIOS]
    fits = [fit_at(design, a, b) for a, b in grid]
    peak = max(fit.log_likelihood for fit in fits)
    weights = np.exp([fit.log_likelihood - peak for fit in fits])
    weights /= weights.sum()
    part, low, high, worse = _mixture(weights, fits, len(y) - 1)
    shares = np.array([[a * a, b * b] for a, b in grid])
    shares = shares / (1 + shares.sum(axis=1, keepdims=True))
    found = tuple(
        GroupPart(
            group=tree,
            checks=sum(g == tree for g in groups),
            horses=len({h for g, h in zip(groups, horses, strict=True) if g == tree}),
            raw=float(np.mean([v for v, g in zip(y, groups, strict=True) if g == tree])),
            part=float(part[i]),
            low=float(low[i]),
            high=float(high[i]),
            worse=float(worse[i]),
        )
        for i, tree in enumerate(trees)
    )
    mean = float(weights @ [fit.mean for fit in fits])
    return Parts(mean, found, *(float(share) for share in weights @ shares))


def _codes(labels: Sequence[Hashable], known: Sequence[Hashable]) -> NDArray[np.intp]:
    place = {label: i for i, label in enumerate(known)}
    return np.array([place[label] for label in labels], np.intp)


def _design(
    y: Array, tree: NDArray[np.intp], horse: NDArray[np.intp], trees: int, horses: int
) -> _Design:
    size = trees + horses
    sums, with_values = np.zeros(size), np.zeros(size)
    cross = np.zeros((size, size))
    for codes in (tree, horse + trees):
        np.add.at(sums, codes, 1.0)
        np.add.at(with_values, codes, y)
    np.add.at(cross, (tree, horse + trees), 1.0)
    cross = cross + cross.T + np.diag(sums)
    return _Design(cross, sums, with_values, len(y), float(y.sum()), float(y @ y), trees)


def fit_at(design: _Design, tree_ratio: float, horse_ratio: float) -> Fit:
    """Fit the model at given ratios of the trees' and horses' spread to the residual spread.

    Notes
    -----
    With V = I + Z D Z', by Woodbury V^-1 = I - Z S (I + S Z'Z S)^-1 S Z', S the root of D. The
    restricted likelihood is -1/2 (log det V + log 1'V^-1 1 + (n - 1) log s2), with s2 the
    generalised residual sum of squares over n - 1. Predictions are D Z' V^-1 (y - mean); their
    variance comes from the mixed model equations, that of the mean included.

    References
    ----------
    D. A. Harville 1977, J. Am. Stat. Assoc. 72:320-338; C. R. Henderson 1975, Biometrics 31:423-447
    [both from memory].
    """
    scale = np.full(len(design.sums), horse_ratio)
    scale[: design.trees] = tree_ratio
    inner = np.eye(len(scale)) + scale[:, None] * design.cross * scale
    factor = np.linalg.cholesky(inner)
    ones, data = (
        np.linalg.solve(factor, scale * vector) for vector in (design.sums, design.with_values)
    )
    weight = design.count - ones @ ones
    mean = (design.total - ones @ data) / weight
    left = design.square - data @ data - weight * mean * mean
    variance = max(left, 1e-12) / (design.count - 1)
    log_det = 2 * np.sum(np.log(np.diag(factor))) + np.log(weight)
    inverse = np.linalg.inv(inner)
    whole = scale * (inverse @ (scale * (design.with_values - mean * design.sums)))
    lean = scale * (inverse @ (scale * design.sums))
    spread = scale**2 * np.diag(inverse) + lean**2 / weight
    return Fit(
        log_likelihood=float(-0.5 * (log_det + (design.count - 1) * np.log(variance))),
        mean=float(mean),
        residual_variance=float(variance),
        parts=whole[: design.trees],
        variances=variance * spread[: design.trees],
    )


def _mixture(
    weights: Array, fits: Sequence[Fit], freedom: int
) -> tuple[Array, Array, Array, Array]:
    """Mean, interval and probability above zero of the trees' parts over the grid.

    The interval takes the mixture as normal with its mean and variance; the probability averages
    Student's t over the grid.
    """
    parts = np.array([fit.parts for fit in fits])
    variances = np.array([fit.variances for fit in fits])
    mean = weights @ parts
    spread = np.sqrt(weights @ (variances + parts**2) - mean**2)
    half = ndtri(0.5 + CONFIDENCE / 2) * spread
    root = np.sqrt(variances)
    t = np.divide(parts, root, out=np.zeros_like(parts), where=root > 0)
    return mean, mean - half, mean + half, weights @ stdtr(freedom, t)
