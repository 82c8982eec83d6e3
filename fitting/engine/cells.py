"""From a pose to the strain of every cell and back from stresses to the forces on the body.

A cell's strain is its overlap at the middle and, if asked for, the overlap's range along and across
the cell: one, two or three *groups*, each linear in the pose. Arrays of P problems hold the groups
of all N cells side by side: strain (P, G N), stress likewise, tangent (P, G(G+1)/2 N) in the order
of a lower triangle. What all problems share is weighed once for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Protocol, cast

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from .laws import Array

Index = NDArray[np.intp] | slice

MOST_SHARED = 8  # pose components up to which products of rows are kept; they grow as the square
SPARSE_UPTO = 0.5  # of the products of rows: with fewer that aren't zero, only those are kept
SPARSE_FROM = 4  # problems; finding them out costs as much as two or three
# Poses weighed at once: from about thirty on, OpenBLAS packs the rows for a product with three
# columns, which costs more than the product (1.5 against 3.8 us for 2,560 cells).
POSES_AT_ONCE = 16


def single_precision(array: NDArray[Any]) -> Array:
    """Return an array in single precision: for starts only, whose last digits do not matter."""
    return cast(Array, array.astype(np.float32))


class Cells(Protocol):
    """What the iteration needs to know of the cells."""

    def strain(self, pose: Array) -> Array:
        """Return the change of strain with the pose (P, M), (P, G N)."""

    def resultant(self, stress: Array) -> Array:
        """Return the generalised forces of the stresses, (P, M)."""

    def stiffness(self, tangent: Array) -> Array:
        """Return the tangent stiffness, (P, M, M)."""

    def take(self, index: Index) -> Cells:
        """Return the cells of some of the problems."""


@dataclass(frozen=True)
class SharedCells:
    """One set of rows for all problems; ``scale`` (P,) multiplies their stresses.

    The areas are shared too and weighed in, or of each problem, which only one group allows.
    """

    rows: Array  # (M, G N)
    area: Array  # (N,) or (P, N)
    weighted: Array  # (G N, M) B, by the area if that is shared
    products: Array  # (G(G+1)/2 N, M(M+1)/2) B B', likewise, lower triangles
    expand: NDArray[np.intp]  # (M M,) where each entry of the full matrix is in the triangle
    scale: Array | None

    @classmethod
    def of(cls, rows: Array, area: Array, scale: Array | None) -> SharedCells:
        """Weigh the rows (G, N, M) with the areas (N,), or leave that for areas (P, N)."""
        groups, _, count = rows.shape
        first, second = np.tril_indices(count)
        weighted = rows if area.ndim == 2 else area[:, None] * rows
        products = [
            weighted[g][:, first] * rows[h][:, second]
            if g == h
            else weighted[g][:, first] * rows[h][:, second]
            + weighted[h][:, first] * rows[g][:, second]
            for g, h in zip(*np.tril_indices(groups), strict=True)
        ]
        expand = np.zeros((count, count), dtype=np.intp)
        expand[first, second] = expand[second, first] = np.arange(len(first))
        flat = rows.reshape(-1, count)
        return cls(
            np.ascontiguousarray(flat.T),
            area,
            weighted.reshape(-1, count),
            np.concatenate(products),
            expand.ravel(),
            scale,
        )

    def single(self) -> SharedCells:
        """Return these cells in single precision."""
        return replace(
            self,
            rows=single_precision(self.rows),
            area=single_precision(self.area),
            weighted=single_precision(self.weighted),
            products=single_precision(self.products),
        )

    def strain(self, pose: Array) -> Array:
        """Return the change of strain with the pose (P, M), (P, G N)."""
        if self.rows.dtype == np.float32:
            return single_precision(pose) @ self.rows
        out = np.zeros((len(pose), self.rows.shape[1]))
        for first in range(0, len(pose), POSES_AT_ONCE):
            part = slice(first, first + POSES_AT_ONCE)
            np.matmul(pose[part], self.rows, out=out[part])
        return out

    def resultant(self, stress: Array) -> Array:
        """Return the generalised forces of the stresses, (P, M)."""
        force = self._own(stress) @ self.weighted
        return force if self.scale is None else force * self.scale[:, None]

    def stiffness(self, tangent: Array) -> Array:
        """Return the tangent stiffness, (P, M, M)."""
        flat = self._own(tangent) @ self.products
        if self.scale is not None:
            flat = flat * self.scale[:, None]
        count = len(self.rows)
        return flat.take(self.expand, axis=1).reshape(-1, count, count)

    def take(self, index: Index) -> SharedCells:
        """Return the cells of some of the problems."""
        if self.scale is None and self.area.ndim == 1:
            return self
        area = self.area if self.area.ndim == 1 else self.area[index]
        return replace(self, area=area, scale=None if self.scale is None else self.scale[index])

    def _own(self, values: Array) -> Array:
        return values if self.area.ndim == 1 else values * self.area


@dataclass(frozen=True)
class SparseCells:
    """Rows and areas for all problems where a row touches few of many components: bars that bend.

    As `SharedCells`, for one group, with the products that are zero left out.
    """

    rows: Array  # (M, N)
    weighted: Array  # (N, M) area B
    products: csr_array  # (entries, N) area B B', those of a lower triangle that occur
    expand: NDArray[
        np.intp
    ]  # (M M,) where each entry of the full matrix is, the last one being zero
    scale: Array | None

    @classmethod
    def of(cls, rows: Array, area: Array, scale: Array | None) -> SparseCells:
        """Weigh the rows (N, M) with the areas (N,)."""
        count = rows.shape[1]
        occurring = _occurring(rows)
        first, second = (index[occurring] for index in np.tril_indices(count))
        weighted = area[:, None] * rows
        expand = np.full((count, count), len(first), dtype=np.intp)
        expand[first, second] = expand[second, first] = np.arange(len(first))
        products = csr_array((weighted[:, first] * rows[:, second]).T)
        return cls(np.ascontiguousarray(rows.T), weighted, products, expand.ravel(), scale)

    def strain(self, pose: Array) -> Array:
        """Return the change of strain with the pose (P, M), (P, N)."""
        return pose @ self.rows

    def resultant(self, stress: Array) -> Array:
        """Return the generalised forces of the stresses, (P, M)."""
        force = stress @ self.weighted
        return force if self.scale is None else force * self.scale[:, None]

    def stiffness(self, tangent: Array) -> Array:
        """Return the tangent stiffness, (P, M, M)."""
        entries = np.zeros((self.products.shape[0] + 1, len(tangent)))
        entries[:-1] = self.products @ tangent.T
        flat = entries.T if self.scale is None else entries.T * self.scale[:, None]
        count = len(self.rows)
        return flat.take(self.expand, axis=1).reshape(-1, count, count)

    def take(self, index: Index) -> SparseCells:
        """Return the cells of some of the problems."""
        return self if self.scale is None else replace(self, scale=self.scale[index])


def _occurring(rows: Array) -> NDArray[np.bool_]:
    """Say which pairs of components, in a lower triangle, some row (N, M) touches together."""
    touched = (rows != 0.0).astype(float)
    return np.asarray((touched.T @ touched)[np.tril_indices(rows.shape[1])] > 0.0)


def _is_sparse(rows: Array) -> bool:
    return bool(np.mean(_occurring(rows)) < SPARSE_UPTO)


@dataclass(frozen=True)
class OwnCells:
    """Rows and areas of each problem."""

    rows: Array  # (P, M, G, N)
    area: Array  # (P, 1, N)

    @classmethod
    def of(cls, rows: Array, area: Array, scale: Array | None, count: int) -> OwnCells:
        """Lay out rows (G, N, M) or (P, G, N, M) and areas (N,) or (P, N) for P problems."""
        turned = np.ascontiguousarray(np.moveaxis(rows, -1, -3))
        scaled = area if scale is None else area * scale[:, None]
        own_rows = np.broadcast_to(turned, (count, *turned.shape[-3:]))
        own_area = np.broadcast_to(scaled, (count, scaled.shape[-1]))
        return cls(np.ascontiguousarray(own_rows), own_area[:, None, :])

    @property
    def _flat(self) -> Array:
        return self.rows.reshape(*self.rows.shape[:2], -1)

    def strain(self, pose: Array) -> Array:
        """Return the change of strain with the pose (P, M), (P, G N)."""
        return np.asarray(np.matmul(pose[:, None, :], self._flat)[:, 0, :], float)

    def resultant(self, stress: Array) -> Array:
        """Return the generalised forces of the stresses, (P, M)."""
        count, _, groups, cells = self.rows.shape
        force = (stress.reshape(count, groups, cells) * self.area).reshape(count, -1, 1)
        return np.asarray(np.matmul(self._flat, force)[:, :, 0], float)

    def stiffness(self, tangent: Array) -> Array:
        """Return the tangent stiffness, (P, M, M)."""
        count, size, groups, cells = self.rows.shape
        if groups == 1:
            weighted = self._flat * (tangent * self.area[:, 0])[:, None, :]
            return np.asarray(np.matmul(weighted, np.swapaxes(self._flat, 1, 2)), float)
        weight = tangent.reshape(count, -1, cells) * self.area
        pairs = list(zip(*np.tril_indices(groups), strict=True))
        weighted = self.rows[:, :, :1] * weight[:, None, :1]
        weighted = np.concatenate([weighted, np.zeros_like(self.rows[:, :, 1:])], axis=2)
        for pair, (g, h) in enumerate(pairs[1:], start=1):
            part = weight[:, pair, None, :]
            weighted[:, :, g] += self.rows[:, :, h] * part
            if g != h:
                weighted[:, :, h] += self.rows[:, :, g] * part
        flat = weighted.reshape(count, size, -1)
        return np.asarray(np.matmul(flat, np.swapaxes(self._flat, 1, 2)), float)

    def take(self, index: Index) -> OwnCells:
        """Return the cells of some of the problems."""
        return OwnCells(self.rows[index], self.area[index])


def lay_out(rows: Array, area: Array, scale: Array | None, count: int) -> Cells:
    """Return the cells of ``count`` problems in the form that costs least.

    Parameters
    ----------
    rows : (G, N, M) or (P, G, N, M) array
        Rows of each group, shared or of each problem.
    area : (N,) or (P, N) array
        [m2].
    scale : (P,) array or None
        Factor on the stresses of each problem.
    count : int
        P.
    """
    is_shared = rows.ndim == 3 and (area.ndim == 1 or len(rows) == 1)
    if is_shared and rows.shape[-1] <= MOST_SHARED:
        return SharedCells.of(rows, area, scale)
    is_plain = area.ndim == 1 and len(rows) == 1
    if is_shared and is_plain and count >= SPARSE_FROM and _is_sparse(rows[0]):
        return SparseCells.of(rows[0], area, scale)
    return OwnCells.of(rows, area, scale, count)
