"""Triangles in space, and the few things asked of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int32]


class CannotUseScan(Exception):
    """A scan that cannot be used, with words for the person who brought it."""


@dataclass(frozen=True, eq=False)
class Surface:
    """A surface of triangles.

    Attributes
    ----------
    vertices : (n, 3) array
        Places, in the file's own unit until a scale is known.
    faces : (m, 3) array
        Three vertices each.
    faces_read : int
        How many triangles the file held, before any were left out.
    """

    vertices: Array
    faces: Indices
    faces_read: int = 0

    @property
    def normals(self) -> Array:
        """Outward directions at the vertices (n, 3), weighted by the area of the triangles."""
        corners = self.vertices[self.faces]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        total = np.zeros_like(self.vertices)
        for corner in range(3):
            for axis in range(3):
                total[:, axis] += np.bincount(
                    self.faces[:, corner], across[:, axis], len(self.vertices)
                )
        length = np.linalg.norm(total, axis=1, keepdims=True)
        return np.asarray(total / np.where(length > 0, length, 1.0))

    @property
    def size(self) -> Array:
        """Extent along the file's axes (3,)."""
        return np.asarray(np.ptp(self.vertices, axis=0))

    def only(self, kept: NDArray[np.bool_]) -> Surface:
        """Return the surface of the vertices kept, and the triangles that have all three."""
        number = np.cumsum(kept) - 1
        faces = self.faces[kept[self.faces].all(axis=1)]
        return Surface(self.vertices[kept], number[faces].astype(np.int32), self.faces_read)

    def save(self, path: Path) -> None:
        """Write to a numpy archive that `opened` reads back, to a millionth of its size."""
        centre = self.vertices.mean(axis=0)
        with path.open("wb") as file:
            np.savez_compressed(
                file,
                centre=centre,
                offsets=(self.vertices - centre).astype(np.float32),
                faces=self.faces.astype(np.int32),
                faces_read=self.faces_read,
            )

    @classmethod
    def opened(cls, path: Path) -> Surface:
        """Read what `save` wrote."""
        with np.load(path, allow_pickle=False) as kept:
            vertices = kept["centre"] + kept["offsets"].astype(float)
            return cls(vertices, kept["faces"], int(kept["faces_read"]))
