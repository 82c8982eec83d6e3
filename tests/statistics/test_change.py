"""Shifts and trends against worked examples of a handbook and against counting by hand."""

import itertools

import numpy as np
import pytest
from scipy.stats import mannwhitneyu

from horses.statistics.change import could_tell, fewest_each, shift_between, trend_of

# Permeability of the human chorioamnion at term and at 12 to 26 weeks: M. Hollander and D. A.
# Wolfe, Nonparametric Statistical Methods, table 4.1, also R's example of wilcox.test [memory].
TERM = (0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46)
EARLY = (1.15, 0.88, 0.90, 0.74, 1.21)
ONE_SIDED_P, SHIFT = 0.1272, 0.305  # printed there [memory]

# Cloud seeding, five years: the same book, example 9.1 [memory]; K = -6, slope -0.056.
YEARS, RATIOS = (1, 2, 3, 4, 5), (1.26, 1.27, 1.12, 1.16, 1.03)


def test_rank_sum_and_shift_are_those_of_the_handbook() -> None:
    found = shift_between(EARLY, TERM)
    assert found.p == pytest.approx(2 * ONE_SIDED_P, abs=1e-4)
    assert found.shift == pytest.approx(SHIFT, abs=5e-4)
    assert shift_between(TERM, EARLY).shift == pytest.approx(-SHIFT, abs=5e-4)


def test_handbooks_numbers_refuse_other_data() -> None:
    moved = (*TERM[:-1], 0.70)
    found = shift_between(EARLY, moved)
    assert found.p != pytest.approx(2 * ONE_SIDED_P, abs=1e-4)
    assert found.shift != pytest.approx(SHIFT, abs=5e-4)


def test_interval_is_the_one_that_inverts_the_test() -> None:
    """At both ends the exact test of scipy just stops refusing the shift at 10 %."""
    found = shift_between(EARLY, TERM)
    assert found.low is not None
    assert found.high is not None
    for end, outward in ((found.low, -1), (found.high, 1)):
        inside, outside = (
            mannwhitneyu(np.add(EARLY, end + outward * step), TERM, method="exact").pvalue
            for step in (-1e-6, 1e-6)
        )
        assert inside > 0.10 >= outside


def test_ties_are_counted_over_every_arrangement() -> None:
    before, after = (0.0, 0.5, 0.5, 1.0), (0.5, 1.0, 1.0, 1.5)
    pooled = np.array(before + after)
    ranks = np.array([np.mean(np.flatnonzero(np.sort(pooled) == v)) + 1 for v in pooled])
    sums = [abs(sum(ranks[list(chosen)]) - 18) for chosen in itertools.combinations(range(8), 4)]
    by_hand = np.mean(np.array(sums) >= abs(ranks[4:].sum() - 18) - 1e-9)
    assert shift_between(before, after).p == pytest.approx(by_hand)


def test_slope_and_its_chance_are_those_of_the_handbook() -> None:
    found = trend_of(YEARS, RATIOS)
    assert found is not None
    assert found.slope == pytest.approx(-0.056, abs=5e-4)
    assert found.p / 2 == pytest.approx(0.117, abs=5e-4)  # table A.30 there [memory]
    other = trend_of(YEARS, RATIOS[::-1])
    assert other is not None
    assert other.slope != pytest.approx(-0.056, abs=5e-4)


def test_too_few_checks_cannot_be_notable_however_clear() -> None:
    least = fewest_each()
    assert least == 4
    assert not shift_between([0.0] * 3, [4.0] * 3).is_notable
    assert not could_tell(3, 3)
    assert shift_between([0.0, 0.1, 0.2, 0.3], [3.0, 3.1, 3.2, 3.3]).is_notable
    assert could_tell(4, 4)
    assert not could_tell(0, 40)


def test_interval_needs_enough_values() -> None:
    found = shift_between([1.0, 1.1], [2.0, 2.1])
    assert (found.low, found.high) == (None, None)


def test_level_series_has_no_trend() -> None:
    found = trend_of(range(6), [1.0] * 6)
    assert found is not None
    assert (found.slope, found.is_notable) == (0.0, False)
    assert trend_of(range(4), [1, 2, 3, 4]) is None
    assert trend_of([1] * 6, range(6)) is None


def test_many_checks_are_drawn_the_same_each_time() -> None:
    rng = np.random.default_rng(4)
    before, after = rng.normal(size=60), rng.normal(0.4, 1, size=60)
    found = shift_between(before, after)
    assert found == shift_between(before, after)
    assert found.p == pytest.approx(mannwhitneyu(before, after).pvalue, abs=0.02)
