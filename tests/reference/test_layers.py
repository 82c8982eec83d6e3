"""Layers in series and the modulus of thin layers (checks C12, C23).

Sources: springs in series, elementary; the stiffening pair is inverted with Wright's omega
function, derived in `fitting.engine.support`, and checked here against plain root finding. Thin
layers: K. L. Johnson, Contact Mechanics (Cambridge 1985), sec. 4.3 [from memory], limits near a
Poisson's ratio of one half: Chandler & Vella, Proc. R. Soc. A 2020, arXiv 2010.11133 [abstract
seen].
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import brentq

from fitting.engine.support import (
    linear_layer,
    series,
    stiffening_layer,
    tabulated,
    thin_layer_modulus,
)

from .cases import PROD, Bar, all_differ, compare

TISSUE = linear_layer(modulus_per_area=2e6)
PAD = stiffening_layer(pressure_scale=6e3, compression_scale=4e-3)
PAIR = series(TISSUE, PAD)
TOLERANCE = 1e-9


def test_c12_two_linear_layers_in_series():
    pair = series(linear_layer(modulus_per_area=2e6), linear_layer(modulus_per_area=1.5e6))
    compare({"modulus": pair.modulus_per_area}, {"modulus": 6e6 / 7}, tolerance=TOLERANCE)
    assert pair.modulus_per_area == pytest.approx(857_142.86, rel=1e-8)
    beside = 2e6 + 1.5e6  # layers side by side rather than in series
    assert beside != pytest.approx(6e6 / 7, rel=TOLERANCE)


@pytest.mark.parametrize("law", [PAIR, tabulated(PAIR)], ids=["closed form", "table"])
def test_c12_stiffening_pad_on_tissue(law):
    compression = 6e-3 + 4e-3 * np.log(3.0)
    found = {
        "compression": float(law.compression(12e3)),
        "pressure": float(law.pressure(compression)),
        "tangent": float(law.tangent(compression)),
        "initial": float(law.tangent(1e-15)),
    }
    expected = {
        "compression": compression,
        "pressure": 12e3,
        "tangent": 1 / (1 / 2e6 + 4e-3 / 18e3),
        "initial": 1 / (1 / 2e6 + 4e-3 / 6e3),
    }
    compare(found, expected, tolerance=TOLERANCE)
    printed = {"compression": 10.394449e-3, "tangent": 1.3846154e6, "initial": 857_142.86}
    compare(found, printed, tolerance=1e-7)
    pad_alone = {
        "compression": float(PAD.compression(12e3)),
        "pressure": float(PAD.pressure(compression)),
        "tangent": float(PAD.tangent(compression)),
        "initial": float(PAD.tangent(1e-15)),
    }
    assert all_differ(pad_alone, expected, tolerance=TOLERANCE)


@pytest.mark.parametrize("u", [1e-5, 1e-3, 5e-3, 0.02, 0.06])
def test_c12_omega_agrees_with_root_finding(u):
    def unbalanced(p):
        return (p / 2e6 + 4e-3 * np.log1p(p / 6e3) - u) / u

    root = brentq(unbalanced, 1e-9, 2e6 * u, xtol=1e-14, rtol=1e-14)
    assert float(PAIR.pressure(u)) == pytest.approx(root, rel=TOLERANCE)
    assert float(tabulated(PAIR).pressure(u)) == pytest.approx(root, rel=2 * TOLERANCE)
    assert float(PAD.pressure(u)) != pytest.approx(root, rel=TOLERANCE)


def test_c12_the_solver_finds_the_series_compression():
    bar = Bar.of(PROD)
    load = 12e3 * bar.area.sum()
    found = {"heave": bar.under(load, law=PAIR).pose[0, 0]}
    expected = {"heave": 6e-3 + 4e-3 * np.log(3.0)}
    compare(found, expected, tolerance=TOLERANCE)
    wrong = {"heave": bar.under(load, law=TISSUE).pose[0, 0]}
    assert all_differ(wrong, expected, tolerance=TOLERANCE)


EXACT = {  # E = 50 kPa, nu = 2/5, t = 30 mm
    "bonded": Fraction(3, 5) / (Fraction(7, 5) * Fraction(1, 5)) * Fraction(50_000 * 100, 3),
    "slippery": 1 / (1 - Fraction(4, 25)) * Fraction(50_000 * 100, 3),
    "unconfined": Fraction(50_000 * 100, 3),
}
PRINTED = {"bonded": 3.571429e6, "slippery": 1.984127e6, "unconfined": 1.666667e6}


@pytest.mark.parametrize("condition", EXACT)
def test_c23_thin_layer_modulus(condition):
    found = thin_layer_modulus(young=50e3, poisson=0.4, thickness=0.03, condition=condition)
    compare({"k": found}, {"k": float(EXACT[condition])}, tolerance=1e-12)
    compare({"k": found}, {"k": PRINTED[condition]}, tolerance=2e-7)
    others = [float(EXACT[name]) for name in EXACT if name != condition]
    for other in others:
        assert all_differ({"k": other}, {"k": found}, tolerance=1e-12)


@pytest.mark.parametrize(
    ("poisson", "factor"), [(0.30, 1.346), (0.40, 2.143), (0.45, 3.793), (0.49, 17.11)]
)
def test_c23_bonded_factor(poisson, factor):
    found = thin_layer_modulus(young=1.0, poisson=poisson, thickness=1.0)
    assert found == pytest.approx(factor, rel=5e-4)
    slippery = thin_layer_modulus(young=1.0, poisson=poisson, thickness=1.0, condition="slippery")
    assert slippery != pytest.approx(factor, rel=5e-4)
