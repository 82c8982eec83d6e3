"""Before and after a change: the shift between two short runs of numbers, and trends within one.

Soreness scores are ordered words given numbers, with many ties and few of them, so everything here
goes by ranks or medians. The exact test counts the ways the same values could have fallen. It takes
the checks as exchangeable: checks close in time are alike, which makes a chance result look rarer
than it is. That is why a low p is called 'hard to put down to chance', never proof.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray
from scipy.stats import kendalltau, permutation_test, rankdata, theilslopes

Array = NDArray[np.float64]

CONFIDENCE = 0.90
NOTABLE = 0.05  # a two-sided p below this is remarked on
MOST_EXACT = 20_000  # arrangements counted one by one; beyond, as many drawn with a fixed seed
SEED = 20260101
FEWEST_EACH = 2  # values on a side; one alone says nothing of its own spread
FEWEST_FOR_TREND = 5  # with four points no order at all has a two-sided p below 0.05


@dataclass(frozen=True)
class Shift:
    """How far a run of values lies above the run before it.

    `shift` is the median of all differences after less before (Hodges and Lehmann), with a
    distribution-free 90 % interval (None where so few values allow none); `p` is that of the
    two-sided rank-sum test, counted exactly over all arrangements, ties included.
    """

    before: int
    after: int
    shift: float
    low: float | None
    high: float | None
    p: float

    @property
    def is_notable(self) -> bool:
        return self.p < NOTABLE


@dataclass(frozen=True)
class Trend:
    """Theil and Sen's slope per day with its 90 % interval, and the p of Kendall's test."""

    count: int
    slope: float
    low: float
    high: float
    p: float

    @property
    def is_notable(self) -> bool:
        return self.p < NOTABLE


def fewest_each() -> int:
    """Return how many values each side of a change needs before any p can be notable."""
    count = 1
    while 2 / comb(2 * count, count) >= NOTABLE:
        count += 1
    return count


def could_tell(before: int, after: int) -> bool:
    """Tell whether even the clearest order of so many values could be notable."""
    return min(before, after) >= FEWEST_EACH and 2 / comb(before + after, before) < NOTABLE


def shift_between(before: Sequence[float], after: Sequence[float]) -> Shift:
    """Return the shift from one run of values to the next (`FEWEST_EACH` or more in both).

    References
    ----------
    J. L. Hodges and E. L. Lehmann 1963, Ann. Math. Stat. 34:598-611; M. Hollander and D. A. Wolfe,
    Nonparametric Statistical Methods, ch. 4 [both from memory].
    """
    first, second = np.asarray(before, float), np.asarray(after, float)
    differences = np.sort((second[:, None] - first[None, :]).ravel())
    low, high = _interval(differences, len(first), len(second))
    return Shift(
        before=len(first),
        after=len(second),
        shift=float(np.median(differences)),
        low=low,
        high=high,
        p=_rank_sum_p(first, second),
    )


def _rank_sum_p(first: Array, second: Array) -> float:
    ranks = rankdata(np.concatenate([first, second]))
    expected = len(second) * (len(ranks) + 1) / 2

    def distance(one: Array, other: Array, axis: int) -> Array:
        return np.asarray(np.abs(np.sum(other, axis=axis) - expected), float)

    result = permutation_test(
        (ranks[: len(first)], ranks[len(first) :]),
        distance,
        vectorized=True,
        n_resamples=MOST_EXACT,
        alternative="greater",
        rng=np.random.default_rng(SEED),
    )
    return float(result.pvalue)


def _interval(differences: Array, before: int, after: int) -> tuple[float | None, float | None]:
    """Order statistics of the differences that hold the shift with the confidence asked."""
    outside = _left_out(before, after)
    if outside == 0:
        return None, None
    return float(differences[outside - 1]), float(differences[-outside])


def _left_out(before: int, after: int) -> int:
    """How many differences may be left out at each end: the largest k with P(U < k) <= alpha / 2.

    Exact for short runs; for long ones the normal approximation of U.
    """
    alpha = 1 - CONFIDENCE
    if comb(before + after, before) > MOST_EXACT:
        spread = np.sqrt(before * after * (before + after + 1) / 12)
        return int(max(np.floor(before * after / 2 - 1.6449 * spread), 0))
    sums = np.array([sum(chosen) for chosen in combinations(range(before + after), after)])
    u = np.sort(sums - after * (after - 1) // 2)
    k = 0
    while np.mean(u < k + 1) <= alpha / 2:
        k += 1
    return k


def trend_of(days: Sequence[float], values: Sequence[float]) -> Trend | None:
    """Return the trend of values over days, None where they are too few to tell or all on one day.

    References
    ----------
    P. K. Sen 1968, J. Am. Stat. Assoc. 63:1379-1389 [memory]; computed by scipy.
    """
    if len(values) < FEWEST_FOR_TREND or len(set(days)) < 2:
        return None
    slope, _, low, high = theilslopes(values, days, alpha=CONFIDENCE)
    tau = kendalltau(days, values)
    p = float(tau.pvalue) if np.isfinite(tau.pvalue) else 1.0  # all values alike: no order at all
    return Trend(len(values), float(slope), float(low), float(high), p)
