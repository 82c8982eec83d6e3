"""Layer laws: pressure, energy, tangent and inverse agree with one another."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitting.engine.errors import InvalidShape
from fitting.engine.support import (
    LinearLaw,
    LinearOnStiffeningLaw,
    TableLaw,
    linear_layer,
    series,
    stiffening_layer,
    table_layer,
    tabulated,
    thin_layer_modulus,
)

TISSUE = linear_layer(modulus_per_area=2e6)
PAD = stiffening_layer(pressure_scale=6e3, compression_scale=4e-3)
FELT = stiffening_layer(pressure_scale=2e4, compression_scale=2e-3)
MEASURED = table_layer(
    compression=[0.0, 2e-3, 5e-3, 8e-3, 1e-2], pressure=[0.0, 2e3, 9e3, 3e4, 8e4]
)
LAWS = {
    "linear": TISSUE,
    "stiffening": PAD,
    "series": series(TISSUE, PAD),
    "three layers": series(TISSUE, PAD, FELT),
    "two pads": series(PAD, FELT),
    "table": tabulated(series(TISSUE, PAD)),
    "measured": MEASURED,
    "measured on tissue": series(TISSUE, MEASURED),
}
PARTS = {"series": (TISSUE, PAD), "three layers": (TISSUE, PAD, FELT), "two pads": (PAD, FELT)}
EVERY_LAW = pytest.mark.parametrize("name", LAWS)
GRID = np.linspace(1e-5, 9e-3, 400)


@EVERY_LAW
def test_nothing_pulls(name):
    law = LAWS[name]
    for u in (-1.0, -1e-6, 0.0):
        assert float(law.pressure(u)) == 0.0
        assert float(law.energy(u)) == 0.0
        assert float(law.tangent(u)) == 0.0


@EVERY_LAW
def test_pressure_is_the_derivative_of_energy(name):
    law, step = LAWS[name], 1e-7
    slope = (law.energy(GRID + step) - law.energy(GRID - step)) / (2 * step)
    assert slope == pytest.approx(law.pressure(GRID), rel=2e-6, abs=1e-3)


@EVERY_LAW
def test_tangent_is_the_derivative_of_pressure(name):
    law, step = LAWS[name], 1e-9
    slope = (law.pressure(GRID + step) - law.pressure(GRID - step)) / (2 * step)
    assert slope == pytest.approx(law.tangent(GRID), rel=1e-4)


@EVERY_LAW
def test_pressure_rises(name):
    pressure = LAWS[name].pressure(np.linspace(0.0, 0.2, 5000))
    assert np.all(np.diff(pressure) > 0.0)
    assert np.all(np.isfinite(pressure))


@EVERY_LAW
def test_compression_is_the_inverse(name):
    law = LAWS[name]
    assert law.compression(law.pressure(GRID)) == pytest.approx(GRID, rel=1e-9)
    assert float(law.compression(0.0)) == pytest.approx(0.0, abs=1e-12)


@EVERY_LAW
def test_pressure_and_tangent_together_are_the_two_apart(name):
    law = LAWS[name]
    u = np.concatenate([-GRID, GRID]).reshape(2, -1)
    pressure, tangent = law.pressure_and_tangent(u)
    assert pressure == pytest.approx(law.pressure(u), rel=1e-12)
    assert tangent == pytest.approx(law.tangent(u), rel=1e-12)


@EVERY_LAW
def test_laws_survive_pickling(name):
    again = pickle.loads(pickle.dumps(LAWS[name]))
    assert np.array_equal(again.pressure(GRID), LAWS[name].pressure(GRID))


@given(st.floats(1.0, 1.9e5))
def test_layers_in_series_carry_the_same_pressure_and_add_their_compressions(pressure):
    for name, parts in PARTS.items():
        total = sum(float(law.compression(pressure)) for law in parts)
        assert float(LAWS[name].compression(pressure)) == pytest.approx(total, rel=1e-7)
        assert float(LAWS[name].pressure(total)) == pytest.approx(pressure, rel=1e-7)
        energy = sum(float(law.energy(law.compression(pressure))) for law in parts)
        assert float(LAWS[name].energy(total)) == pytest.approx(energy, rel=1e-6)


def test_series_takes_the_closed_form_where_there_is_one():
    assert isinstance(series(TISSUE), LinearLaw)
    assert isinstance(series(TISSUE, TISSUE), LinearLaw)
    assert isinstance(series(TISSUE, PAD), LinearOnStiffeningLaw)
    assert isinstance(series(PAD, TISSUE, TISSUE), LinearOnStiffeningLaw)
    assert isinstance(series(PAD, FELT, TISSUE), TableLaw)
    assert series(PAD) is PAD


def test_table_goes_through_its_points_and_on_straight():
    assert MEASURED.pressure([2e-3, 5e-3, 8e-3]) == pytest.approx([2e3, 9e3, 3e4], rel=1e-6)
    end = float(MEASURED.tangent(1e-2))
    assert float(MEASURED.pressure(2e-2)) == pytest.approx(8e4 + 1e-2 * end)
    assert float(MEASURED.compression(8e4 + 1e-2 * end)) == pytest.approx(2e-2)


def test_stiffening_goes_on_straight_far_inside():
    limit = 25 * PAD.compression_scale
    assert float(PAD.tangent(limit)) == pytest.approx(float(PAD.tangent(10 * limit)))
    assert np.isfinite(PAD.pressure(10.0))
    assert float(PAD.compression(PAD.pressure(2 * limit))) == pytest.approx(2 * limit)


@pytest.mark.parametrize(
    ("build", "path"),
    [
        (lambda: linear_layer(modulus_per_area=0.0), "modulus_per_area"),
        (lambda: linear_layer(modulus_per_area=float("nan")), "modulus_per_area"),
        (lambda: stiffening_layer(pressure_scale=-1.0, compression_scale=1e-3), "pressure_scale"),
        (lambda: stiffening_layer(pressure_scale=1.0, compression_scale=0.0), "compression_scale"),
        (lambda: table_layer(compression=[0, 1], pressure=[0, 0]), "table"),
        (lambda: table_layer(compression=[0, 1, 1], pressure=[0, 1, 2]), "table"),
        (lambda: table_layer(compression=[0], pressure=[0]), "table"),
        (lambda: thin_layer_modulus(young=1.0, poisson=0.5, thickness=1.0), "poisson"),
        (lambda: thin_layer_modulus(young=1.0, poisson=0.3, thickness=0.0), "thickness"),
        (
            lambda: thin_layer_modulus(young=1.0, poisson=0.3, thickness=1.0, condition="x"),
            "condition",
        ),
        (lambda: series(), "series"),
    ],
)
def test_bad_data_names_the_field(build, path):
    with pytest.raises(InvalidShape) as caught:
        build()
    assert caught.value.path == path
