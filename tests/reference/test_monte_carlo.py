"""Draws of measuring errors against the law of propagation, where everything is linear (C20).

Sources: JCGM 101:2008, Supplement 1 to the Guide to the expression of uncertainty in measurement,
propagation of distributions by a Monte Carlo method; JCGM 100:2008, 5.1.2 and 5.2.2, the law of
propagation [both from memory]. In full contact on a linear layer the pose depends linearly on the
back's heights, so the draws' 90 % interval must be 2 x 1.644854 standard deviations of c C c', with
c the pose's coefficients and C the errors' covariance. For the heave C sums in closed form: the
mean of exp(-t^2 / 2 l^2) over pairs of places on a length L is, with a = L / l,
(sqrt(2 pi) a erf(a / sqrt 2) + 2 (exp(-a^2 / 2) - 1)) / a^2. The same case with errors that have
nothing to do with one another is in `test_statics`.
"""

from __future__ import annotations

from dataclasses import replace
from math import erf, exp, pi, sqrt

import numpy as np
import pytest

from fitting.engine import (
    Errors,
    FitInputs,
    HeightGrid,
    Layer,
    Layers,
    LoadCase,
    Loads,
    Placement,
    Settings,
    UndersideGrid,
    evaluate_fit,
    with_uncertainty,
)

from .cases import LENGTH, MODULUS, WIDTH, all_differ, compare

SIGMA, OFFSET = 2.0e-3, 0.12  # [m]
DRAWS = 4000
NINETY = 2 * 1.644854  # standard deviations in 90 % of a normal distribution
# Four standard errors of the distance of two quantiles, sqrt(p (1 - p) / M) / density each (their
# correlation left out), and 1 % for the shapes of the error that are left out.
TOLERANCE = 4 * sqrt(2 * 0.05 * 0.95 / DRAWS) / 0.103136 / NINETY + 0.01
ALONG, ACROSS = 0.15, 0.05  # [m] over which the errors stay alike
STILL = Errors().scaled(0.0)
X = (np.arange(84) + 0.5) * LENGTH / 84
Y = OFFSET + ((np.arange(10) + 0.5) / 10 - 0.5) * WIDTH


def flat_tree(errors: Errors) -> FitInputs:
    """Return two flat bars on a flat back, under a load that keeps all of them in contact."""
    level = np.zeros((2, len(X), len(Y)))
    return FitInputs(
        back=HeightGrid(X, Y, level),
        tree=UndersideGrid(X, Y, level, np.ones(level.shape, bool), LENGTH / 2, LENGTH / 2),
        placement=Placement(0.0),
        layers=Layers(Layer(MODULUS)),
        loads=Loads(rider_mass=600.0, girth_tension=0.0, rider_height=0.0, stirrup_share=0.0),
        cases=(LoadCase("standing", "Standing"),),
        settings=Settings(is_linear=True),
        errors=errors,
    )


def widths(errors: Errors) -> dict[str, float]:
    """Return the width of the 90 % band of the pose's parts."""
    inputs = flat_tree(errors)
    result = with_uncertainty(inputs, evaluate_fit(inputs), draws=DRAWS)
    return {band.code: band.high - band.low for band in result.bands if band.case}


def correlation(at: np.ndarray, length: float) -> np.ndarray:
    return np.exp(-0.5 * (np.subtract.outer(at, at) / length) ** 2)


def propagated() -> dict[str, float]:
    """Return the widths that c C c' gives; the two sides have nothing to do with one another."""
    along, across = correlation(X, ALONG), correlation(Y, ACROSS)
    x, y = X - X.mean(), Y
    even_x, even_y = np.full(len(X), 1 / len(X)), np.full(len(Y), 1 / len(Y))
    heave = (even_x @ along @ even_x) * (even_y @ across @ even_y) / 2
    pitch = (x @ along @ x) * (even_y @ across @ even_y) / (x @ x) ** 2 / 2
    roll = (even_x @ along @ even_x) * (y @ across @ y) / (y @ y) ** 2 / 2
    found = {"heave": heave, "pitch": pitch, "roll": roll}
    return {name: NINETY * SIGMA * sqrt(value) for name, value in found.items()}


def mean_likeness(length: float, alike: float) -> float:
    """Return the closed form in the module's docstring."""
    a = length / alike
    return (sqrt(2 * pi) * a * erf(a / sqrt(2)) + 2 * (exp(-a * a / 2) - 1)) / a**2


MEASURED = replace(STILL, scan=SIGMA, along_length=ALONG, depth_length=ACROSS)


@pytest.fixture(scope="module")
def drawn() -> dict[str, float]:
    return widths(MEASURED)


def test_c20_smooth_errors_of_a_scan_spread_as_linear_propagation_says(drawn):
    compare(drawn, propagated(), tolerance=TOLERANCE)


def test_c20_heave_meets_the_closed_form(drawn):
    alike = mean_likeness(LENGTH, ALONG) * mean_likeness(WIDTH, ACROSS)
    closed = {"heave": NINETY * SIGMA * sqrt(alike / 2)}
    compare(drawn, closed, tolerance=TOLERANCE)
    compare(propagated(), closed, tolerance=2e-3)  # the cells' sum against the integral


def test_c20_twin_errors_a_fifth_too_large_are_caught():
    assert all_differ(widths(MEASURED.scaled(1.2)), propagated(), tolerance=TOLERANCE)


def test_c20_twin_independent_errors_of_cells_are_caught():
    cells = 2 * len(X) * len(Y)
    white = {
        "heave": NINETY * SIGMA / sqrt(cells),
        "pitch": NINETY * SIGMA / sqrt(cells * np.mean((X - X.mean()) ** 2)),
        "roll": NINETY * SIGMA / sqrt(cells * np.mean(Y**2)),
    }
    assert all_differ(white, propagated(), tolerance=TOLERANCE)


def test_c20_a_load_known_to_a_tenth_gives_a_band_of_that_width():
    """A mass with a relative standard deviation of 10 %: the load's band is 0.329 of its weight."""
    found = widths(replace(STILL, rider=0.10))
    weight = 600.0 * 9.80665
    compare(found, {"load": NINETY * 0.10 * weight}, tolerance=TOLERANCE)
    assert all_differ(found, {"load": NINETY * 0.12 * weight}, tolerance=TOLERANCE)
