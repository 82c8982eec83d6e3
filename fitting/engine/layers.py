"""What lies between tree and back: soft tissue, pad, flock, and shims that add local thickness.

Each layer is p = ps (exp(k u / ps) - 1), stiffening with the modulus k per area at first touch, or
p = k u where no pressure scale is given. Layers act in series. None of the defaults below is a
measurement of a horse: no modulus of the equine back or of saddle felt was found, so every one is
shown beside the result, may be changed, and only ranks and directions should be trusted. Tissue and
flock are those of the fit to published pressure-mat experiments (`fitting/calibration`,
docs/calibration.md), which narrows what is believed of them only little.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .errors import InvalidShape
from .profiles import Array
from .support import LayerLaw, linear_layer, series, stiffening_layer


@dataclass(frozen=True)
class Layer:
    """One layer.

    Attributes
    ----------
    modulus_per_area : float
        At first touch [Pa/m].
    pressure_scale : float or None
        ps of the stiffening law [Pa]; None for a linear layer.
    """

    modulus_per_area: float
    pressure_scale: float | None = None

    def law(self) -> LayerLaw:
        """Return the pressure law."""
        if self.pressure_scale is None:
            return linear_layer(modulus_per_area=self.modulus_per_area)
        return stiffening_layer(
            pressure_scale=self.pressure_scale,
            compression_scale=self.pressure_scale / self.modulus_per_area,
        )


@dataclass(frozen=True)
class Shims:
    """Thickness added under one corner of each side [m]; it fades to nothing at mid-length."""

    left_front: float = 0.0
    left_rear: float = 0.0
    right_front: float = 0.0
    right_rear: float = 0.0

    def thickness(self, along: Array, side: NDArray[np.intp]) -> Array:
        """Return the added thickness [m] at `along` (0 front, 1 rear) on each side."""
        front = np.where(side == 0, self.left_front, self.right_front)
        rear = np.where(side == 0, self.left_rear, self.right_rear)
        taper = 1.0 / 6.0  # full over the first and last third, from there to nothing at mid-length
        front_share = np.clip((0.5 - along) / taper, 0.0, 1.0)
        rear_share = np.clip((along - 0.5) / taper, 0.0, 1.0)
        return np.asarray(front * front_share + rear * rear_share, float)


@dataclass(frozen=True)
class Layers:
    """All layers of a pairing.

    Attributes
    ----------
    tissue : Layer
        Skin, fat and muscle over the ribs.
    pad : Layer or None
        Felt or blanket.
    pad_thickness : float
        Lifts the tree off the back by as much, along the normal [m].
    flock : Layer or None
        Filling of panels.
    shims : Shims
        Local thickness.
    """

    tissue: Layer
    pad: Layer | None = None
    pad_thickness: float = 0.0
    flock: Layer | None = None
    shims: Shims = Shims()

    def law(self) -> LayerLaw:
        """Return the law of all layers in series."""
        present = (layer for layer in (self.tissue, self.pad, self.flock) if layer is not None)
        return _in_series(tuple(present))


@lru_cache(maxsize=64)  # a table takes 2 ms to make, and every load case and draw asks for it
def _in_series(layers: tuple[Layer, ...]) -> LayerLaw:
    return series(*(layer.law() for layer in layers))


def felt(*, thickness: float) -> Layer:
    """Return a firm felt pad of a thickness [m].

    Notes
    -----
    Through 40 kPa at 25 % and 200 kPa at 50 % compression, the middle of the working guess for firm
    felt (20-60 and 100-300 kPa; common practice, no source): ps = 13.3 kPa, scale 0.18 thickness.
    """
    return of_strain(thickness, pressure_scale=13.3e3, strain_scale=0.18)


def wool_flock(*, thickness: float) -> Layer:
    """Return a wool-filled panel of a thickness [m].

    Notes
    -----
    7 kPa at 25 % and 23 kPa at 50 % compression: softer than felt, firmer than upholstery foam (3-6
    kPa at 25 %, ASTM D3574 grades). The pressure scale is an assumption; the strain scale gives the
    0.57 kPa/mm at first touch that the calibration fits for 30 mm (0.43 to 1.15 left open).
    """
    return of_strain(thickness, pressure_scale=5.0e3, strain_scale=0.292)


def of_strain(thickness: float, *, pressure_scale: float, strain_scale: float) -> Layer:
    """Return the layer of a thickness [m] with p = ps (exp(strain / scale) - 1)."""
    if not (np.isfinite(thickness) and thickness > 0):
        raise InvalidShape(f"must be above zero, got {thickness}", path="thickness")
    return Layer(pressure_scale / (strain_scale * thickness), pressure_scale)


# Fitted by `python -m fitting.calibration`: 1.6 (0.96 to 2.98 left open) kPa/mm, doubling by 27 (14
# to 53) kPa, from a belief of 1.5 kPa/mm and 30 kPa, a factor of two either way: human muscle
# 62 kPa at 5 N of probe force, stiffening to 440 kPa (Isogai et al. 2022, J Phys Ther Sci
# 34:777-783), 60 kPa over 40 mm free to move sideways. Sweep 30-200 kPa.
TISSUE = Layer(modulus_per_area=1.6e6, pressure_scale=27.0e3)


def default_layers(*, pad_thickness: float = 0.019, flock_thickness: float = 0.0) -> Layers:
    """Return tissue, a felt pad of a thickness (0 for none) and flock (0 for none) [m]."""
    return Layers(
        tissue=TISSUE,
        pad=felt(thickness=pad_thickness) if pad_thickness > 0 else None,
        pad_thickness=pad_thickness,
        flock=wool_flock(thickness=flock_thickness) if flock_thickness > 0 else None,
    )
