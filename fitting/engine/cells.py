"""From a pose to the overlap of every cell and back from pressures to the forces on the body.

For P problems of N cells and M pose components: ``approach`` is B q, ``resultant`` sum area p B and
``stiffness`` sum area k B B'. Cells that all problems share are weighed once for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from .support import Array

Index = NDArray[np.intp]


class Cells(Protocol):
    """What the iteration needs to know of the cells."""

    def approach(self, pose: Array) -> Array:
        """Return B q, (P, N)."""

    def resultant(self, pressure: Array) -> Array:
        """Return sum area p B, (P, M)."""

    def stiffness(self, tangent: Array) -> Array:
        """Return sum area k B B', (P, M, M)."""

    def take(self, index: Index) -> Cells:
        """Return the cells of some of the problems."""


@dataclass(frozen=True)
class SharedCells:
    """One set of rows and areas for all problems; ``scale`` (P,) multiplies their pressures."""

    rows: Array  # (M, N)
    weighted: Array  # (N, M) area B
    products: Array  # (N, M(M+1)/2) area B B', lower triangle
    scale: Array | None

    @classmethod
    def of(cls, rows: Array, area: Array, scale: Array | None) -> SharedCells:
        """Weigh the rows (N, M) with the areas (N,)."""
        first, second = np.tril_indices(rows.shape[1])
        weighted = area[:, None] * rows
        products = weighted[:, first] * rows[:, second]
        return cls(np.ascontiguousarray(rows.T), weighted, products, scale)

    def approach(self, pose: Array) -> Array:
        """Return B q, (P, N)."""
        return pose @ self.rows

    def resultant(self, pressure: Array) -> Array:
        """Return sum area p B, (P, M)."""
        force = pressure @ self.weighted
        return force if self.scale is None else force * self.scale[:, None]

    def stiffness(self, tangent: Array) -> Array:
        """Return sum area k B B', (P, M, M)."""
        flat = tangent @ self.products
        if self.scale is not None:
            flat *= self.scale[:, None]
        count = len(self.rows)
        full = np.zeros((len(flat), count, count))
        first, second = np.tril_indices(count)
        full[:, first, second] = flat
        full[:, second, first] = flat
        return full

    def take(self, index: Index) -> SharedCells:
        """Return the cells of some of the problems."""
        if self.scale is None:
            return self
        return SharedCells(self.rows, self.weighted, self.products, self.scale[index])


@dataclass(frozen=True)
class OwnCells:
    """Rows and areas of each problem."""

    rows: Array  # (P, M, N)
    area: Array  # (P, N)

    @classmethod
    def of(cls, rows: Array, area: Array, scale: Array | None, count: int) -> OwnCells:
        """Lay out rows (N, M) or (P, N, M) and areas (N,) or (P, N) for ``count`` problems."""
        turned = np.ascontiguousarray(np.swapaxes(rows, -1, -2))
        scaled = area if scale is None else area * scale[:, None]
        own_rows = np.broadcast_to(turned, (count, *turned.shape[-2:]))
        return cls(own_rows, np.broadcast_to(scaled, (count, scaled.shape[-1])))

    def approach(self, pose: Array) -> Array:
        """Return B q, (P, N)."""
        return np.asarray(np.matmul(pose[:, None, :], self.rows)[:, 0, :], float)

    def resultant(self, pressure: Array) -> Array:
        """Return sum area p B, (P, M)."""
        force = pressure * self.area
        return np.asarray(np.matmul(self.rows, force[:, :, None])[:, :, 0], float)

    def stiffness(self, tangent: Array) -> Array:
        """Return sum area k B B', (P, M, M)."""
        weighted = self.rows * (tangent * self.area)[:, None, :]
        return np.asarray(np.matmul(weighted, np.swapaxes(self.rows, 1, 2)), float)

    def take(self, index: Index) -> OwnCells:
        """Return the cells of some of the problems."""
        return OwnCells(self.rows[index], self.area[index])


def lay_out(rows: Array, area: Array, scale: Array | None, count: int) -> Cells:
    """Return the cells of ``count`` problems in the form that costs least."""
    if rows.ndim == 2 and area.ndim == 1:
        return SharedCells.of(rows, area, scale)
    return OwnCells.of(rows, area, scale, count)
