"""Fewer triangles with the same shape."""

from __future__ import annotations

from typing import Any

import fast_simplification
import numpy as np

from horses.scanning.surface import Array, Indices, Surface

SHOWN_FACES = 16_000  # what a phone turns without a jerk


def thinned(vertices: Array, faces: Any, count: int) -> tuple[Array, Indices]:
    """Return about `count` triangles that keep the shape (quadric error, edges collapsed)."""
    centre = vertices.mean(axis=0)
    points, fewer = fast_simplification.simplify(
        (vertices - centre).astype(np.float32), faces.astype(np.int32), target_count=count
    )
    return np.asarray(points, float) + centre, np.asarray(fewer, np.int32)


def thin(surface: Surface, count: int) -> Surface:
    """Return the surface with about `count` triangles, or as it is when it has no more."""
    if len(surface.faces) <= count:
        return surface
    return Surface(*thinned(surface.vertices, surface.faces, count), surface.faces_read)
