"""Cells that move with the sections of bars: three numbers a section, many components behind them.

As `cells`, for rows that are those of heave, pitch and roll times the motion of the cell's section.
Sums over a section come first; what is left is one small product for each section and problem.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from .cells import Index
from .laws import Array

PAIRS = tuple(zip(*np.tril_indices(3), strict=True))


@dataclass(frozen=True)
class SectionCells:
    """Cells in sections: S sections of m cells each, side by side, for P problems."""

    rows: Array  # (P, 3, S, m) work of heave, pitch and roll on each cell
    area: Array  # (P, S, m)
    motions: Array  # (3 S, M) motion of the sections by component
    products: csr_array  # (entries, 6 S) from sums over sections to the entries that occur
    expand: NDArray[
        np.intp
    ]  # (M M,) where each entry of the full matrix is, the last one being zero

    def strain(self, pose: Array) -> Array:
        """Return the change of strain with the pose (P, M), (P, S m)."""
        motion = (pose @ self.motions.T).reshape(*self.rows.shape[:3], 1)
        return np.asarray((self.rows * motion).sum(axis=1).reshape(len(pose), -1), float)

    def resultant(self, stress: Array) -> Array:
        """Return the generalised forces of the stresses, (P, M)."""
        force = self.area * stress.reshape(self.area.shape)
        summed = np.matmul(np.moveaxis(self.rows, 1, 2), force[..., None])[..., 0]
        return np.asarray(summed.swapaxes(1, 2).reshape(len(stress), -1) @ self.motions, float)

    def stiffness(self, tangent: Array) -> Array:
        """Return the tangent stiffness, (P, M, M)."""
        weighted = self.rows * (self.area * tangent.reshape(self.area.shape))[:, None]
        pairs = [(weighted[:, i] * self.rows[:, j]).sum(axis=2) for i, j in PAIRS]
        entries = np.zeros((self.products.shape[0] + 1, len(tangent)))
        entries[:-1] = self.products @ np.concatenate(pairs, axis=1).T
        size = self.motions.shape[1]
        return entries.T.take(self.expand, axis=1).reshape(-1, size, size)

    def take(self, index: Index) -> SectionCells:
        """Return the cells of some of the problems."""
        return replace(self, rows=self.rows[index], area=self.area[index])


def section_products(motions: Array) -> tuple[csr_array, NDArray[np.intp]]:
    """Return `products` and `expand` of `SectionCells` for motions (S, 3, M) of the sections."""
    size = motions.shape[2]
    touched = (np.abs(motions).sum(axis=1) > 0).astype(float)
    first, second = np.tril_indices(size)
    occurring = (touched.T @ touched)[first, second] > 0
    first, second = first[occurring], second[occurring]
    expand = np.full((size, size), len(first), dtype=np.intp)
    expand[first, second] = expand[second, first] = np.arange(len(first))
    parts = []
    for i, j in PAIRS:
        part = motions[:, i, first] * motions[:, j, second]
        if i != j:
            part = part + motions[:, j, first] * motions[:, i, second]
        parts.append(part)
    return csr_array(np.concatenate(parts).T), expand.ravel()
