"""Cuts across back and tree for drawing, and the room over the withers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .geometry import BackSurface
from .measures import rows_at
from .pose import Placed, turned
from .profiles import Array

CUT_POINTS = 25


@dataclass(frozen=True, eq=False)
class Section:
    """A cut at x behind the shoulder blade [m].

    Attributes
    ----------
    name : str
    x : float
    back_y : (m,), back_z : (2, m) arrays
        Back of left and right, y outward [m].
    tree_y, tree_z : (2, k) arrays
        Underside of left and right bar in the loaded attitude; nan where there is none [m].
    """

    name: str
    x: float
    back_y: Array
    back_z: Array
    tree_y: Array
    tree_z: Array


def sections_of(
    stations: list[tuple[str, float]], placed: Placed, pose: Array, surface: BackSurface
) -> tuple[Section, ...]:
    """Return the cuts at named distances behind the blade, the tree in one pose (3,)."""
    x = np.array([at for _, at in stations], float)
    backs = np.array([rows_at(surface, side, x) for side in range(2)])
    trees = np.array([_cuts(placed, pose, side, x - placed.tip) for side in range(2)])
    if placed.face.yields is not None and placed.face.yields.follows_back:
        for side, i in np.ndindex(trees.shape[:2]):
            trees[side, i, :, 1] = np.interp(trees[side, i, :, 0], surface.y, backs[side, i])
    return tuple(
        Section(name, at, surface.y, backs[:, i], trees[:, i, :, 0], trees[:, i, :, 1])
        for i, (name, at) in enumerate(stations)
    )


def _cuts(placed: Placed, pose: Array, side: int, behind_tip: Array) -> Array:
    """Outward y and z (k, CUT_POINTS, 2) of one underside, edge to edge; nan beyond its ends."""
    points = face_points(placed, side, behind_tip)
    moved = in_pose(placed, pose, points)
    cut = np.stack([np.abs(moved[..., 1]), moved[..., 2]], axis=-1)
    there = (behind_tip >= placed.face.start) & (behind_tip <= placed.face.length[side])
    return np.where(there[:, None, None], cut, np.nan)


def face_points(placed: Placed, side: int, behind_tip: Array) -> Array:
    """Return points (k, CUT_POINTS, 3) across an underside, before the tree is moved [m]."""
    inner, outer = placed.face.edges(side, behind_tip)
    y = inner[:, None] + (outer - inner)[:, None] * np.linspace(0, 1, CUT_POINTS)
    along = np.broadcast_to(behind_tip[:, None], y.shape)
    z = placed.face.height(np.full(y.shape, side, np.intp), along, y)[0]
    return np.stack([along + placed.tip, y if side else -y, z], axis=-1)


def in_pose(placed: Placed, pose: Array, points: Array) -> Array:
    """Return points (..., 3) of the tree where a pose (3,) puts them."""
    moved = (points - placed.axis) @ turned(pose[None])[0].T + placed.axis
    return np.asarray(moved - [0.0, 0.0, pose[0]], float)


def withers_clearance(
    placed: Placed, pose: Array, surface: BackSurface, gullet_height: float
) -> float | None:
    """Return the room between arch and midline at the front of the bearing part [m].

    Notes
    -----
    The height of an arch is measured from the line that joins the bars' outer edges below it, so
    that is where it is put back; an estimate, as forks differ. None where the midline isn't known.
    """
    if surface.midline is None:
        return None
    x = float(placed.face.bearing[:, 0].mean())
    outer = np.array([face_points(placed, side, np.array([x]))[0, -1] for side in range(2)])
    arch = float(in_pose(placed, pose, outer)[:, 2].mean()) + gullet_height
    return arch - float(np.interp(placed.tip + x, surface.x, surface.midline))
