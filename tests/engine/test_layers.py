"""Tissue, pads and shims."""

import numpy as np
import pytest

from fitting.engine import (
    PAD_KINDS,
    InvalidShape,
    Layer,
    Layers,
    Shims,
    default_layers,
    felt,
    pad_layer,
)


def test_felt_passes_through_its_two_points():
    """40 kPa at 25 % and 200 kPa at 50 %, a working guess (common practice, no source)."""
    law = felt(thickness=0.020).law()
    assert law.pressure(0.005) == pytest.approx(40e3, rel=0.02)
    assert law.pressure(0.010) == pytest.approx(200e3, rel=0.02)
    assert felt(thickness=0.010).law().pressure(0.005) == pytest.approx(200e3, rel=0.02)


@pytest.mark.parametrize("kind", sorted(PAD_KINDS))
def test_each_kind_of_pad_passes_through_its_two_points(kind):
    """Foams: ASTM D1056 grade 1 and D3574 at 25 % (facts as classed there); the rest guesses."""
    law, points = pad_layer(kind, thickness=0.020).law(), PAD_KINDS[kind]
    assert law.pressure(0.005) == pytest.approx(points.at_quarter, rel=1e-9)
    assert law.pressure(0.010) == pytest.approx(points.at_half, rel=1e-9)
    thin = pad_layer(kind, thickness=0.010).law()
    assert thin.pressure(0.005) == pytest.approx(points.at_half, rel=1e-9)
    assert thin.pressure(0.005) != pytest.approx(points.at_quarter, rel=0.1)


def test_foams_lie_within_the_grades_of_their_standards():
    assert 13.8e3 < PAD_KINDS["foam_closed"].at_quarter < 34.5e3  # ASTM D1056, grade 1
    assert 3.1e3 < PAD_KINDS["foam_open"].at_quarter < 6.2e3  # ASTM D3574, 100 to 200 N


def test_the_felt_of_the_defaults_is_the_felt_of_the_kinds():
    same = pad_layer("felt", thickness=0.019)
    assert same.modulus_per_area == pytest.approx(felt(thickness=0.019).modulus_per_area, rel=5e-3)


def test_a_kind_nobody_knows_is_refused():
    with pytest.raises(InvalidShape, match="must be one of"):
        pad_layer("moss", thickness=0.02)


def test_layers_in_series_are_softer_than_each():
    layers = default_layers(pad_thickness=0.019)
    both, tissue = layers.law().pressure(0.008), layers.tissue.law().pressure(0.008)
    assert both < tissue
    assert Layers(layers.tissue).law().pressure(0.008) == pytest.approx(tissue)


def test_linear_layers_add_their_give():
    """1/k = 1/k1 + 1/k2: 2e6 on 1.5e6 gives 857 142.86 Pa/m."""
    law = Layers(tissue=Layer(2e6), pad=Layer(1.5e6)).law()
    assert law.pressure(0.01) == pytest.approx(8571.4286, rel=1e-8)


def test_shim_lies_under_its_own_corner():
    shims = Shims(right_front=0.006)
    along = np.linspace(0, 1, 7)
    right = shims.thickness(along, np.ones(7, np.intp))
    assert right[0] == right[2] == pytest.approx(0.006)
    assert right[3:].max() == 0.0
    assert shims.thickness(along, np.zeros(7, np.intp)).max() == 0.0


def test_pad_without_thickness_is_refused():
    with pytest.raises(InvalidShape, match="above zero"):
        felt(thickness=0.0)
