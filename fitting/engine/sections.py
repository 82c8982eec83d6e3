"""Cuts across back and tree for drawing, and the room over the withers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .geometry import BackSurface
from .measures import row_at
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
    return tuple(_section(name, x, placed, pose, surface) for name, x in stations)


def _section(name: str, x: float, placed: Placed, pose: Array, surface: BackSurface) -> Section:
    sides = [_cut(placed, pose, side, x) for side in range(2)]
    return Section(
        name=name,
        x=x,
        back_y=surface.y,
        back_z=np.array([row_at(surface, side, x) for side in range(2)]),
        tree_y=np.array([y for y, _ in sides]),
        tree_z=np.array([z for _, z in sides]),
    )


def _cut(placed: Placed, pose: Array, side: int, x: float) -> tuple[Array, Array]:
    """Outward y and z of one bar's underside near x, edge to edge, in the loaded attitude."""
    nothing = np.full(CUT_POINTS, np.nan)
    behind_tip = x - placed.tip
    if not placed.face.start <= behind_tip <= placed.face.length[side]:
        return nothing, nothing
    points = face_points(placed, side, behind_tip)
    moved = in_pose(placed, pose, points)
    return np.abs(moved[:, 1]), moved[:, 2]


def face_points(placed: Placed, side: int, behind_tip: float) -> Array:
    """Return points (k, 3) across one underside, y signed, before the tree is moved [m]."""
    inner, outer = (float(e[0]) for e in placed.face.edges(side, np.array([behind_tip])))
    y = np.linspace(inner, outer, CUT_POINTS)
    along = np.full(CUT_POINTS, behind_tip)
    z = placed.face.height(np.full(CUT_POINTS, side, np.intp), along, y)[0]
    return np.column_stack([along + placed.tip, y if side else -y, z])


def in_pose(placed: Placed, pose: Array, points: Array) -> Array:
    """Return points (k, 3) of the tree where a pose (3,) puts them."""
    moved = (points - placed.axis) @ turned(pose[None])[0].T + placed.axis
    moved[:, 2] -= pose[0]
    return np.asarray(moved, float)


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
    outer = np.array([face_points(placed, side, x)[-1] for side in range(2)])
    arch = float(in_pose(placed, pose, outer)[:, 2].mean()) + gullet_height
    return arch - float(np.interp(placed.tip + x, surface.x, surface.midline))
