"""A bowl-shaped body on any layer, and a strip on a stiffening pad (checks C5, C13, C14).

Sources: K. L. Johnson, Contact Mechanics (Cambridge 1985), sec. 4.3 [book confirmed, equations from
memory] for the linear layer; the law for any layer is derived in `fitting.engine.reference`.
"""

from __future__ import annotations

import numpy as np
import pytest

from fitting.engine import reference
from fitting.engine.support import linear_layer, series, stiffening_layer

from .cases import LINEAR, MODULUS, PROD, WIDTH, Bar, all_differ, compare

RX, RY = 1.5, 0.02  # [m]
FINE_BOWL = (640, 256)
SOFT = series(
    linear_layer(modulus_per_area=2e6),
    stiffening_layer(pressure_scale=6e3, compression_scale=4e-3),
)


def bowl(grid, *, load, law):
    """Pose, pressures and area of a paraboloid pressed down, clear of the grid's rim."""
    bar = Bar.of(grid, 0.60, 0.08)
    dx, dy = bar.steps
    solution = bar.under(
        load,
        # the mean over each cell: x2 has the mean x2 + dx2/12
        overlap=-(bar.x**2 + dx**2 / 12) / (2 * RX) - (bar.y**2 + dy**2 / 12) / (2 * RY),
        slopes=(-bar.x / RX, -bar.y / RY),
        law=law,
        edges=True,
    )
    area = solution.contact[0] @ bar.area
    approach = solution.pose[0, 0]
    return {
        "approach": approach,
        "a": np.sqrt(2 * RX * approach),
        "b": np.sqrt(2 * RY * approach),
        "peak": float(law.pressure(approach)),
        "area": area,
        "mean": load / area,
    }


LINEAR_TOLERANCES = dict.fromkeys(("approach", "a", "b", "peak"), 0.005) | {
    "area": 1e-2,
    "mean": 1e-2,
}
FINE_TOLERANCES = dict.fromkeys(LINEAR_TOLERANCES, 1e-4)


@pytest.mark.parametrize(
    ("grid", "tolerance"), [(PROD, LINEAR_TOLERANCES), (FINE_BOWL, FINE_TOLERANCES)]
)
def test_c5_ellipsoid_on_a_linear_layer(grid, tolerance):
    found = bowl(grid, load=300, law=LINEAR)
    worked = {
        "approach": 21.43457e-3,
        "a": 0.2535818,
        "b": 0.02928110,
        "peak": 25_721.48,
        "area": 0.02332680,
        "mean": 25_721.48 / 2,
    }
    compare(found, worked, tolerance=tolerance)
    closed = reference.paraboloid_approach(law=LINEAR, load=300, radius_x=RX, radius_y=RY)
    formula = np.sqrt(300 / (np.pi * MODULUS * np.sqrt(RX * RY)))
    compare({"d": closed}, {"d": formula}, tolerance=1e-9)
    compare({"d": closed}, {"d": worked["approach"]}, tolerance=1e-6)
    wrong = bowl(grid, load=310, law=LINEAR)
    assert all_differ(wrong, worked, tolerance=tolerance)


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 2e-3), (FINE_BOWL, 1e-4)])
def test_c13_paraboloid_on_any_law(grid, tolerance):
    found = bowl(grid, load=400, law=SOFT)
    worked = {"approach": 24.23493e-3, "peak": 33_411.48}
    compare(found, worked, tolerance=tolerance)
    closed = reference.paraboloid_approach(law=SOFT, load=400, radius_x=RX, radius_y=RY)
    compare({"approach": closed}, {"approach": worked["approach"]}, tolerance=1e-6)
    wrong = bowl(grid, load=400, law=LINEAR)
    assert all_differ(wrong, worked, tolerance=tolerance)


PAD = stiffening_layer(pressure_scale=3e3, compression_scale=5e-3)


@pytest.mark.parametrize(("grid", "tolerance"), [(PROD, 2e-4), ((1280, 2), 1e-6)])
def test_c14_strip_on_a_stiffening_pad_alone(grid, tolerance):
    bar = Bar.of(grid)
    load = reference.stiffening_strip_load(
        pressure_scale=3e3, compression_scale=5e-3, radius=1.5, width=WIDTH, approach=11e-3
    )
    compare({"load": load}, {"load": 457.6276}, tolerance=1e-6)
    shape = -(bar.x**2) / 3.0
    found = {
        "approach": bar.under(load, overlap=shape, law=PAD).pose[0, 0],
        "load": PAD.pressure(11e-3 + shape) @ bar.area,
    }
    expected = {"approach": 11e-3, "load": load}
    compare(found, expected, tolerance=tolerance)
    straight = linear_layer(modulus_per_area=float(PAD.tangent(5e-3)))
    wrong = {
        "approach": bar.under(load, overlap=shape, law=straight).pose[0, 0],
        "load": straight.pressure(11e-3 + shape) @ bar.area,
    }
    assert all_differ(wrong, expected, tolerance=tolerance)
