"""Curves through measured points against a general reference library."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline, PchipInterpolator

from fitting.engine.profiles import monotone_cubic

SEEDS = range(8)


def drawn(seed):
    """Points with turns, flats and steep ends; two or three of them in the first draws."""
    rng = np.random.default_rng(seed)
    count = seed + 2
    x = np.cumsum(rng.uniform(0.01, 1.0, count))
    y = np.cumsum(rng.choice([-2.0, 0.0, 0.1, 1.0, 5.0], (count, 3)), axis=0)
    return x, y, np.linspace(x[0] - 0.2, x[-1] + 0.2, 301)


@pytest.mark.parametrize("seed", SEEDS)
def test_monotone_cubic_is_the_one_of_scipy(seed):
    """Reference: scipy.interpolate.PchipInterpolator (Fritsch and Butland 1984 [memory])."""
    x, y, at = drawn(seed)
    for degree in (0, 1):
        expected = PchipInterpolator(x, y)(at, degree)
        np.testing.assert_allclose(monotone_cubic(x, y)(at, degree), expected, atol=1e-10)


def test_a_natural_cubic_is_told_apart():
    """The twin: a cubic spline through the same points overshoots and is another curve."""
    x, y, at = drawn(7)
    assert np.abs(CubicSpline(x, y)(at) - monotone_cubic(x, y)(at)).max() > 0.1


def test_nothing_is_made_up_beyond_the_points_unless_asked():
    x, y, at = drawn(3)
    inside = (at >= x[0]) & (at <= x[-1])
    found = monotone_cubic(x, y[:, 0], extrapolate=False)(at)
    np.testing.assert_array_equal(np.isfinite(found), inside)
