"""From the bytes of a scan to a clean surface of a size that can be worked with.

Runs in the child process of `load` only: what is read here was made by a stranger.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import trimesh

from horses.scanning import precheck
from horses.scanning.precheck import POINTS_ONLY, TOO_MANY
from horses.scanning.surface import Array, CannotUseScan, Surface
from horses.scanning.thinning import thinned

KEPT_FACES = 150_000  # to work with: about 10 mm apart on a whole horse
NOT_NUMBERS = "The scan holds places that are not numbers. Export it again."
NO_SIZE = "The scan has no size: all its points lie in one place. Export it again."
OUT_OF_RANGE = "The scan's triangles point at corners that are not there. Export it again."
MERGE_STEPS = 2**20  # corners closer than a millionth of the scan's size are one


def parse(path: Path, extension: str, *, kept_faces: int = KEPT_FACES) -> Surface:
    """Return the surface in a file, cleaned and thinned; raises CannotUseScan."""
    with path.open("rb") as file:
        precheck.check(file, extension)
        vertices, faces = _read(file, extension)
    return clean(vertices, faces, kept_faces=kept_faces)


def _read(file: Any, extension: str) -> tuple[Array, Any]:
    # No resolver: nothing a file points at is opened.
    more: dict[str, Any] = {} if extension == "stl" else {"skip_materials": True}
    scene = trimesh.load_scene(file, file_type=extension, process=False, **more)
    mesh = scene.to_mesh()
    return np.asarray(mesh.vertices, float), np.asarray(mesh.faces)


def clean(vertices: Array, faces: Any, *, kept_faces: int = KEPT_FACES) -> Surface:
    """Check, merge corners that lie in one place, drop triangles without area, thin out."""
    read = len(faces)
    _check(vertices, faces)
    vertices, faces = _merged(vertices, faces.astype(np.int64))
    if len(faces) == 0:
        raise CannotUseScan(POINTS_ONLY)
    if len(faces) > kept_faces:
        vertices, faces = thinned(vertices, faces, kept_faces)
    used = np.zeros(len(vertices), bool)
    used[faces] = True
    return Surface(vertices, faces.astype(np.int32), read).only(used)


def _check(vertices: Array, faces: Any) -> None:
    if len(faces) == 0:
        raise CannotUseScan(POINTS_ONLY)
    if len(faces) > precheck.MAX_FACES or len(vertices) > precheck.MAX_VERTICES:
        raise CannotUseScan(TOO_MANY)
    if not np.isfinite(vertices).all() or np.abs(vertices).max() > 1e9:
        raise CannotUseScan(NOT_NUMBERS)
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise CannotUseScan(OUT_OF_RANGE)
    if np.ptp(vertices, axis=0).max() <= 0:
        raise CannotUseScan(NO_SIZE)


def _merged(vertices: Array, faces: Any) -> tuple[Array, Any]:
    low = vertices.min(axis=0)
    step = np.ptp(vertices, axis=0).max() / MERGE_STEPS
    cell = np.rint((vertices - low) / step).astype(np.int64)
    key = (cell[:, 0] << 42) | (cell[:, 1] << 21) | cell[:, 2]
    _, first, number = np.unique(key, return_index=True, return_inverse=True)
    faces = number[faces]
    flat = (faces == np.roll(faces, 1, axis=1)).any(axis=1)
    return vertices[first], faces[~flat]
