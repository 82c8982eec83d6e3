"""Pooled repeatability against certified values of a standards body and published numbers."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from horses.measuring_error import (
    DEFAULT_MM,
    HALF_WIDTH,
    MeasuringError,
    error_from,
    repeatability,
)

# NIST Statistical Reference Datasets, one-way analysis of variance, set SiRstv: resistivity read
# with five instruments, five times each; certified residual standard deviation [data and value
# from memory; they agree with one another to all digits, which a slip of memory would not].
RESISTIVITY = (
    (196.3052, 196.1240, 196.1890, 196.2569, 196.3403),
    (196.3042, 196.3825, 196.1669, 196.3257, 196.0422),
    (196.1303, 196.2005, 196.2889, 196.0343, 196.1811),
    (196.2795, 196.1748, 196.1494, 196.1485, 195.9885),
    (196.2119, 196.1051, 196.1850, 196.0052, 196.2090),
)
CERTIFIED_SD = 1.04076068334656e-01

# J. M. Bland and D. G. Altman 1996, BMJ 312:1654: peak flow of 20 children, residual mean square
# 460.52; within-subject standard deviation 21.5, repeatability 60 l/min [memory].
MEAN_SQUARE, PRINTED_SD, PRINTED_ERROR = 460.52, 21.5, 60.0


def test_pooled_spread_is_the_certified_one() -> None:
    found = repeatability(RESISTIVITY)
    assert found is not None
    assert found.sd == pytest.approx(CERTIFIED_SD, rel=1e-10)
    assert found.freedom == 20


def test_spread_between_backs_taken_for_spread_within_would_be_noticed() -> None:
    everything = [[value for row in RESISTIVITY for value in row]]
    found = repeatability(everything)
    assert found is not None
    assert found.sd != pytest.approx(CERTIFIED_SD, rel=1e-3)


def test_uneven_groups_agree_with_a_statistics_library() -> None:
    rng = np.random.default_rng(3)
    groups = [rng.normal(100 + 20 * i, 2.0, size) for i, size in enumerate((3, 5, 4, 1))]
    data = pd.DataFrame(
        [(i, value) for i, group in enumerate(groups) for value in group], columns=["g", "y"]
    )
    table = anova_lm(ols("y ~ C(g)", data=data).fit())
    found = repeatability(groups)
    assert found is not None
    assert found.sd**2 == pytest.approx(table.loc["Residual", "mean_sq"])
    assert found.freedom == table.loc["Residual", "df"]


def test_error_of_a_change_is_the_published_multiple() -> None:
    half = np.sqrt(MEAN_SQUARE / 2)
    found = repeatability([(-half, half)])  # one pair whose mean square is the printed one
    assert found is not None
    assert found.sd == pytest.approx(PRINTED_SD, abs=0.05)
    assert found.error == pytest.approx(PRINTED_ERROR, abs=0.6)  # printed to whole tens of l/min
    assert found.sd * 1.96 != pytest.approx(PRINTED_ERROR, abs=0.6)


def test_interval_covers_the_true_error_as_often_as_it_says() -> None:
    rng = np.random.default_rng(5)
    true, hits, trials = 1.96 * np.sqrt(2) * 1.5, 0, 2000
    for _ in range(trials):
        found = repeatability(rng.normal(0, 1.5, (3, 5)))
        assert found is not None
        hits += found.low <= true <= found.high
    expected = 0.90
    assert hits / trials == pytest.approx(expected, abs=4 * np.sqrt(0.9 * 0.1 / trials))


def test_few_repeats_do_not_replace_the_default() -> None:
    few = repeatability([(150.0, 151.0, 152.0)])
    assert error_from({HALF_WIDTH: few}, "a study") == MeasuringError()
    enough = repeatability([(150.0, 151.0, 152.0, 150.0, 151.0)] * 3)
    own = error_from({HALF_WIDTH: enough}, "a study")
    assert own.is_own
    assert own.half_width_mm != DEFAULT_MM[HALF_WIDTH]
    assert own.dip_mm == DEFAULT_MM["dip"]
    assert repeatability([[1.0], [2.0]]) is None
