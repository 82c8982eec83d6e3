"""A saddle without a frame: it follows the back, each part of which carries what lies on it.

This is the limit of bars that do not resist bending at all: nothing bridges, nothing perches, and
the load is not spread further than the thickness of body and pad spreads it. Under each seat bone
lies a patch of seat; body and pad hand it on at 45 degrees, so that its edges fade over twice their
thickness. Straps press across the whole body over a length, the saddle's own weight everywhere.
Where the body has a channel the load moves out beside it.

Pressures act along the back's normals with upright parts in balance, cell by cell; what they push
sideways is held by the body and by friction. Level forces and heights of loads do nothing here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .errors import InvalidShape
from .laws import Array, LayerLaw
from .loads import PointForce, resultant
from .pose import BALANCED, OUTSIDE, Placed, Settled, arms_at
from .trees import FramelessTree

LAIN_ON = 2.0e3  # [Pa] below which the body just lies there and no mat would read it; assumption
STRAP_LENGTH = 0.10  # [m] of the body that a strap presses, before body and pad; assumption


@dataclass(frozen=True, eq=False)
class Draping:
    """How a frameless saddle settles: it doesn't; the loads spread over its body."""

    tree: FramelessTree
    follows_back: bool = True

    def settle(
        self,
        placed: Placed,
        cases: tuple[tuple[PointForce, ...], ...],
        moments: tuple[float, float],
        law: LayerLaw,
        *,
        linear: bool = False,
        tolerance: float = 1e-10,
        start: Array | None = None,
    ) -> Settled:
        """Spread the loads of each case over the back; see `pose.settle`. The pose stays level."""
        cover = body_cover(self.tree, placed)
        count, level = len(cases), np.zeros((len(cases), 3))
        pressure = np.array([spread_load(self.tree, placed, forces, cover) for forces in cases])
        loads = [resultant(f, moments, arms_at(placed, f, level[0]))[0] for f in cases]
        upright = (pressure * placed.patch.area * cover * placed.patch.normals[:, 2]).sum(axis=1)
        load = np.array(loads)
        return Settled(
            pose=level,
            overlap=np.asarray(law.compression(pressure), float),
            pressure=pressure,
            contact=(pressure > LAIN_ON).astype(float),
            cover=np.tile(cover, (count, 1)),
            load=load,
            stiffness=np.zeros((count, 3, 3)),
            margin=np.ones(count),
            residual=np.abs(upright - load[:, 0]) / np.maximum(np.abs(load[:, 0]), 1e-9),
            iterations=np.zeros(count, np.int64),
            passes=1,
            status=np.array([self._status(placed, forces) for forces in cases]),
            unrest=np.zeros(count),
        )

    def _status(self, placed: Placed, forces: tuple[PointForce, ...]) -> int:
        """Whether the loads together press within the body; beyond it the saddle slips round."""
        down = np.array([-force.force[2] for force in forces])
        x, y = np.array([force.point[:2] for force in forces]).T
        if down.sum() <= 0:
            return OUTSIDE
        ahead, aside = (down @ x) / down.sum(), abs(down @ y) / down.sum()
        reach = float(np.abs(placed.patch.points[:, 1]).max())
        inside = 0 < ahead < self.tree.length and aside < min(self._arm, reach)
        return BALANCED if inside else OUTSIDE

    @property
    def _arm(self) -> float:
        """Middle of one half of the body off the midline, flat [m]."""
        return (self.tree.channel + self.tree.width) / 2


def check_frameless(tree: FramelessTree) -> None:
    """Raise InvalidShape if a dimension is impossible; `path` names it."""
    for name in ("length", "width", "seat_length", "seat_width", "seat_spacing"):
        value = getattr(tree, name)
        if not (np.isfinite(value) and value > 0):
            raise InvalidShape(f"must be a length above zero, got {value}", path=f"tree.{name}")
    for name in ("thickness", "channel"):
        value = getattr(tree, name)
        if not (np.isfinite(value) and value >= 0):
            raise InvalidShape(f"must not be negative, got {value}", path=f"tree.{name}")
    if not 0 < tree.seat_low < tree.length:
        raise InvalidShape(
            f"lies off the body, which is {tree.length:.3f} m long, got {tree.seat_low:.3f} m",
            path="tree.seat_low",
        )


def body_cover(tree: FramelessTree, placed: Placed) -> Array:
    """Return the share of each cell (N,) under the body, its width laid along the back's curve."""
    patch = placed.patch
    points = patch.points.reshape(*patch.shape, 3)
    normals = patch.normals.reshape(*patch.shape, 3)
    steps = patch.step_y * np.hypot(normals[..., 1], normals[..., 2]) / normals[..., 2]
    off = np.abs(points[..., 1])
    first = off[..., :1] - patch.step_y / 2  # what lies inside the cells, up to the midline
    along_curve = first + np.cumsum(steps, axis=2) - steps / 2
    outer = tree.channel / 2 + tree.width
    across = np.clip((outer - along_curve) / steps + 0.5, 0.0, 1.0)
    across *= np.clip((off - tree.channel / 2) / patch.step_y + 0.5, 0.0, 1.0)
    x = points[..., 0] - placed.tip
    ends = np.minimum(x, tree.length - x)
    return np.asarray((across * np.clip(ends / patch.step_x + 0.5, 0.0, 1.0)).ravel(), float)


def spread_load(
    tree: FramelessTree, placed: Placed, forces: tuple[PointForce, ...], cover: Array
) -> Array:
    """Return the pressure (N,) with which forces lie on the back [Pa]."""
    patch = placed.patch
    upright = patch.area * cover * patch.normals[:, 2]
    x, y = patch.points[:, 0] - placed.tip, patch.points[:, 1]
    fade = 2 * (tree.thickness + float(np.mean(placed.thickness)))
    out = np.zeros(len(x))
    for force in forces:
        for down, density in _parts(tree, force, x, y, fade):
            total = float(density @ upright)
            if total > 0:
                out += down / total * density
    return np.where(cover > 0, np.maximum(out, 0.0), 0.0)


def _parts(
    tree: FramelessTree, force: PointForce, x: Array, y: Array, fade: float
) -> list[tuple[float, Array]]:
    """Parts of a force [N], each with the form (N,) in which it is spread."""
    down, (at, aside, _) = -force.force[2], force.point
    if force.through == "body":
        return [(down, np.ones_like(x))]
    if force.through == "seat":
        right = float(np.clip(0.5 + aside / tree.seat_spacing, 0.0, 1.0))
        middle = aside - (right - 0.5) * tree.seat_spacing  # beyond one bone all goes out with it
        along = _faded(x - at, tree.seat_length, fade)
        bones = middle + np.array([-0.5, 0.5]) * tree.seat_spacing
        return [
            (down * share, along * _faded(y - bone, tree.seat_width, fade))
            for share, bone in zip((1.0 - right, right), bones, strict=True)
        ]
    arm = (tree.channel + tree.width) / 2
    right = float(np.clip(0.5 + aside / (2 * arm), 0.0, 1.0))
    along = _faded(x - at, STRAP_LENGTH, fade)
    return [(down * (1.0 - right), along * (y < 0)), (down * right, along * (y >= 0))]


def _faded(off: Array, length: float, fade: float) -> Array:
    """A patch of a length about zero, its edges fading over `fade`: two boxes laid on another."""
    if fade <= 0:
        return (np.abs(off) <= length / 2).astype(float)
    inner, outer = abs(length - fade) / 2, (length + fade) / 2
    return np.asarray(np.clip((outer - np.abs(off)) / (outer - inner + 1e-12), 0.0, 1.0), float)
