"""Mean pressure of a cell whose overlap varies across it, with the edge of contact inside it.

With overlap u + xi r + eta s over the unit square of a cell (xi, eta from -1/2 to 1/2), the energy
is the mean of Psi over the square: convex in u, r and s as Psi is convex. Its derivatives are the
mean pressure and the mean of xi p and eta p, the leverage of the pressure inside the cell.

The square is cut in two strips along its steeper side, at the Gauss points of the other; in each
strip only the part with positive overlap is integrated, by two Gauss points. For a linear layer
this is exact in the strip; and the open part of a cell carries nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .laws import Array, LayerLaw

GAUSS = 0.5 / np.sqrt(3.0)  # two-point rule on the unit interval: at +- this from its middle


@dataclass(frozen=True)
class CellMean:
    """Stress and tangent of cells from their strain; one per chunk of problems.

    Attributes
    ----------
    law : LayerLaw
        Of the layer.
    groups : int
        1 overlap only (pressure taken at the middle), 2 with its range along, 3 and across.
    turned : (P, N) array of bool or None
        With three groups, the cells that are steeper across than along.
    """

    law: LayerLaw
    groups: int
    turned: NDArray[np.bool_] | None = None

    def take(self, index: NDArray[np.intp] | slice) -> CellMean:
        """Return the means of some of the problems."""
        if self.turned is None:
            return self
        return CellMean(self.law, self.groups, self.turned[index])

    def respond(self, strain: Array) -> tuple[Array, Array]:
        """Return stress (P, G N) and tangent (P, G(G+1)/2 N) at a strain (P, G N)."""
        if self.groups == 1:
            return self.law.pressure_and_tangent(strain)
        if self.groups == 2:
            u, r = np.split(strain, 2, axis=1)
            stress, tangent = _means(self.law, [(u, 0.0, 1.0)], r)
            return np.hstack(stress[:2]), np.hstack(tangent[:3])
        u, r, s = np.split(strain, 3, axis=1)
        steep, gentle = self._swap(r, s)
        strips = [(u - GAUSS * gentle, -GAUSS, 0.5), (u + GAUSS * gentle, GAUSS, 0.5)]
        (p, m, n), (k00, k10, k11, k20, k21, k22) = _means(self.law, strips, steep)
        m, n = self._swap(m, n)
        k10, k20 = self._swap(k10, k20)
        k11, k22 = self._swap(k11, k22)
        return np.hstack([p, m, n]), np.hstack([k00, k10, k11, k20, k21, k22])

    def _swap(self, along: Array, across: Array) -> tuple[Array, Array]:
        if self.turned is None:
            return along, across
        return np.where(self.turned, across, along), np.where(self.turned, along, across)

    def share(self, strain: Array) -> Array:
        """Return the share of each cell in contact, (P, N)."""
        if self.groups == 1:
            return (strain > 0.0).astype(float)
        if self.groups == 2:
            u, r = np.split(strain, 2, axis=1)
            return _length_in_contact(u, np.abs(r))
        u, r, s = np.split(strain, 3, axis=1)
        steep, gentle = self._swap(r, s)
        lengths = [_length_in_contact(u + at * gentle, np.abs(steep)) for at in (-GAUSS, GAUSS)]
        return np.asarray(0.5 * (lengths[0] + lengths[1]), float)


def _length_in_contact(middle: Array, slope: Array) -> Array:
    """Share of a strip with positive overlap, for overlap middle +- slope/2 at its ends."""
    safe = np.maximum(slope, 1e-300)
    return np.asarray(np.clip(0.5 + middle / safe, 0.0, 1.0), float)


def _means(
    law: LayerLaw, strips: list[tuple[Array, float, float]], slope: Array
) -> tuple[list[Array], list[Array]]:
    """Means over a cell of p (1, x, y) and of p' (1, x, x2, y, xy, y2).

    x runs up or down the slope of the strips and y from strip to strip; each strip is given by the
    overlap at its middle, its y and its weight.
    """
    steepness, way = np.abs(slope), np.where(slope < 0.0, -1.0, 1.0)
    stress = [np.zeros_like(slope) for _ in range(3)]
    tangent = [np.zeros_like(slope) for _ in range(6)]
    for middle, y, weight in strips:
        length = _length_in_contact(middle, steepness)
        for part in (0.5 - GAUSS, 0.5 + GAUSS):
            x = 0.5 - length * part
            pressure, stiffness = law.pressure_and_tangent(middle + steepness * x)
            pressure *= 0.5 * weight * length
            stiffness *= 0.5 * weight * length
            x *= way
            _gather(stress, tangent, pressure, stiffness, x, y)
    return stress, tangent


def _gather(
    stress: list[Array], tangent: list[Array], pressure: Array, stiffness: Array, x: Array, y: float
) -> None:
    """Add one point's part to the running means."""
    leverage = stiffness * x
    stress[0] += pressure
    stress[1] += pressure * x
    tangent[0] += stiffness
    tangent[1] += leverage
    tangent[2] += leverage * x
    if y != 0.0:
        stress[2] += pressure * y
        tangent[3] += stiffness * y
        tangent[4] += leverage * y
        tangent[5] += stiffness * (y * y)
