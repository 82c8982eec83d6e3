"""Tissue, pads and shims."""

import numpy as np
import pytest

from fitting.engine import InvalidShape, Layer, Layers, Shims, default_layers, felt


def test_felt_passes_through_its_two_points():
    """40 kPa at 25 % and 200 kPa at 50 %, a working guess (common practice, no source)."""
    law = felt(thickness=0.020).law()
    assert law.pressure(0.005) == pytest.approx(40e3, rel=0.02)
    assert law.pressure(0.010) == pytest.approx(200e3, rel=0.02)
    assert felt(thickness=0.010).law().pressure(0.005) == pytest.approx(200e3, rel=0.02)


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
