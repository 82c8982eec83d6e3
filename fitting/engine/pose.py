"""Placing a tree on a back and letting it settle under its loads.

A pose is (heave, pitch, roll): how far the tree has moved down [m]; turned about y, rear down; and
turned about x, left down [rad]; from the level attitude in which its own x and z are those of the
back. It turns about an axis through the lowest point of its bars' curve, at the middle of their
bearing part, which moves with it. The tree does not slide: girth and friction hold x and y.

Overlap is measured along the normals of the back, at any attitude: from each cell a ray along the
normal meets the underside at a distance s, and a pad of thickness t leaves the overlap t - s. The
contact solve is linear in the pose, so it is repeated about the attitude found until that stays.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from .contact import ContactBatch, ContactSolution, solve_contact
from .errors import InvalidShape, NotConverged
from .geometry import BackSurface
from .loads import PointForce, resultant
from .passes import PASSES, Walk, in_order, some_of
from .profiles import Array
from .support import LayerLaw

if TYPE_CHECKING:
    from .underside import Underside

FARTHEST, DEEPEST = 0.3, 0.1  # [m] along a normal; rays beside the tree need not meet it
MET = 2e-3  # [m] the last step of a ray that does
BALANCED, OUTSIDE, UNSTABLE, RESTLESS = 0, 1, 2, 3


@dataclass(frozen=True, eq=False)
class Patch:
    """The cells of a back near one tree: flat arrays of N = 2 n m cells, left side first.

    Attributes
    ----------
    points, normals : (N, 3) arrays
        Centres and outward normals.
    side : (N,) array of int
    area : (N,) array
        [m2].
    rows : slice
        Which rows of the whole grid these are.
    shape : tuple of int
        (2, n, m).
    step_x, step_y : float
        Size of a cell [m].
    """

    points: Array
    normals: Array
    side: NDArray[np.intp]
    area: Array
    rows: slice
    shape: tuple[int, int, int]
    step_x: float
    step_y: float


@dataclass(frozen=True, eq=False)
class Settled:
    """A tree at rest under each of P load cases.

    Attributes
    ----------
    pose : (P, 3) array
        Heave, pitch, roll.
    overlap, pressure, contact, cover : (P, N) arrays
        Approach along the normal [m], pressure [Pa], share of the cell in contact, share under the
        bars.
    load : (P, 3) array
        Heave force, pitch and roll moment about the axis in the final attitude.
    stiffness : (P, 3, 3) array
        Tangent of the contact alone, about the axis.
    margin, residual : (P,) arrays
        Stability left (1 to 0) and force out of balance over the load.
    iterations, passes : (P,) array and int
    status : (P,) array
        0 balanced, 1 load outside the support, 2 stability lost, 3 still moving.
    unrest : (P,) array
        Largest move of the last pass [m] and [rad]; `STILL` at most, but for those let pass.
    bend : (P, E) array or None
        How a tree on bending bars is bent, see `frames`.
    """

    pose: Array
    overlap: Array
    pressure: Array
    contact: Array
    cover: Array
    load: Array
    stiffness: Array
    margin: Array
    residual: Array
    iterations: NDArray[np.int64]
    passes: int
    status: NDArray[np.int64]
    unrest: Array
    bend: Array | None = None


@dataclass(frozen=True, eq=False)
class Placed:
    """An underside over a back, its front tip at `tip` behind the shoulder blade [m].

    `axis` is the point it turns about, in the tree's frame shifted by the tip; `thickness` (N,) is
    pad and shims [m].
    """

    face: Underside
    patch: Patch
    tip: float
    axis: Array
    thickness: Array


def patch_under(surface: BackSurface, face: Underside, tip: float) -> Patch:
    """Return the cells within 30 mm fore and aft of a tree's length."""
    first, last = tip + face.start, tip + float(np.max(face.length))
    inside = np.flatnonzero((surface.x > first - 0.03) & (surface.x < last + 0.03))
    if len(inside) < 3:
        raise InvalidShape(
            f"a tree from {first:.3f} to {last:.3f} m lies off the back, which runs from "
            f"{surface.x[0]:.3f} to {surface.x[-1]:.3f} m",
            path="placement.tip",
        )
    rows = slice(int(inside[0]), int(inside[-1]) + 1)
    z = surface.z[:, rows]
    return Patch(
        points=surface.points[:, rows].reshape(-1, 3),
        normals=surface.normal[:, rows].reshape(-1, 3),
        side=np.repeat(np.arange(2), z[0].size),
        area=surface.area[:, rows].reshape(-1),
        rows=rows,
        shape=(2, z.shape[1], z.shape[2]),
        step_x=float(surface.x[1] - surface.x[0]),
        step_y=float(surface.y[1] - surface.y[0]),
    )


def turned(pose: Array) -> Array:
    """Return the rotations (P, 3, 3) of poses (P, 3): pitch about y, then roll about x."""
    (cp, sp), (cr, sr) = ((np.cos(a), np.sin(a)) for a in (pose[:, 1], pose[:, 2]))
    zero, one = np.zeros_like(cp), np.ones_like(cp)
    pitch = np.array([[cp, zero, sp], [zero, one, zero], [-sp, zero, cp]]).transpose(2, 0, 1)
    roll = np.array([[one, zero, zero], [zero, cr, -sr], [zero, sr, cr]]).transpose(2, 0, 1)
    return np.asarray(roll @ pitch, float)


def distance(placed: Placed, pose: Array, guess: Array | None) -> tuple[Array, Array]:
    """Return distance along the normals [m] and cover of the cells, (P, N) each.

    Notes
    -----
    The ray's parameter comes from Newton's method on z - underside(x, y), four steps from zero or
    two from a guess; the surfaces are nearly parallel, so that is to well under a micrometre.
    """
    patch, turn = placed.patch, turned(pose).transpose(0, 2, 1)
    rest = patch.points - placed.axis
    lowered = turn @ rest.T + turn[:, :, 2:] * pose[:, :1, None]
    axis_x, axis_y, axis_z = placed.axis
    sign = np.where(patch.side == 0, -1.0, 1.0)
    # In the tree's frame from here on: x behind its tip, y outward.
    start_x, start_z = lowered[:, 0] + (axis_x - placed.tip), lowered[:, 2] + axis_z
    start_y = sign * (lowered[:, 1] + axis_y)
    ray_x, ray_y, ray_z = np.moveaxis(turn @ patch.normals.T, 1, 0)
    ray_y = sign * ray_y
    s = np.zeros(start_x.shape) if guess is None else guess
    side = np.broadcast_to(patch.side, s.shape)
    step = s
    for _ in range(2 if guess is None else 1):
        strip = placed.face.near(side, start_x + s * ray_x)
        for _ in range(2):
            height, along, outward = strip.height(start_x + s * ray_x, start_y + s * ray_y)
            slope = ray_z - along * ray_x - outward * ray_y
            step = (start_z + s * ray_z - height) / slope
            s = np.clip(s - step, -DEEPEST, FARTHEST)
    cover = strip.cover(start_x + s * ray_x, start_y + s * ray_y, patch.step_x, patch.step_y)
    return s, cover * (np.abs(step) < MET)


def rows_at(placed: Placed, pose: Array) -> Array:
    """Return B (P, N, 3): how fast each cell is pressed as the tree moves down, pitches, rolls."""
    patch = placed.patch
    n = patch.normals
    x, y, z = (patch.points - placed.axis).T
    z = z + pose[:, :1]
    cr, sr = np.cos(pose[:, 2:]), np.sin(pose[:, 2:])
    pitch = -(n[:, 0] * (cr * z - sr * y) + n[:, 1] * sr * x - n[:, 2] * cr * x)
    roll = n[:, 1] * z - n[:, 2] * y
    heave = np.broadcast_to(n[:, 2], roll.shape)
    # Components lie apart in memory, as the solver reads them.
    return np.asarray(np.stack([heave, pitch, roll], axis=1).swapaxes(1, 2), float)


def arms_at(placed: Placed, forces: tuple[PointForce, ...], pose: Array) -> Array:
    """Return where forces act from the axis (k, 3) once the tree has turned to one pose (3,)."""
    return _arms(placed, forces, turned(pose[None])[0])


def _arms(placed: Placed, forces: tuple[PointForce, ...], turn: Array) -> Array:
    points = np.array([force.point for force in forces], float).reshape(-1, 3)
    points = points + np.array([placed.tip, 0.0, 0.0]) - placed.axis
    return np.asarray(points @ turn.T, float)


def resting_pose(placed: Placed) -> Array:
    """Return the level of first guess (3,): pitched along the back, three tenths of it touching."""
    s, cover = distance(placed, np.zeros((1, 3)), None)
    gap = (s[0] - placed.thickness) / placed.patch.normals[:, 2]
    held = cover[0] > 0.5
    if not held.any():
        raise InvalidShape("no part of the underside lies over the back", path="placement")
    x = placed.patch.points[held, 0] - placed.axis[0]
    pitch = float(np.polyfit(x, gap[held], 1)[0]) if np.ptp(x) > 0 else 0.0
    heave = float(np.quantile(gap[held] - pitch * x, 0.3))
    return np.array([heave, np.clip(pitch, -0.3, 0.3), 0.0])


def settle(
    placed: Placed,
    cases: tuple[tuple[PointForce, ...], ...],
    moments: tuple[float, float],
    law: LayerLaw,
    *,
    linear: bool = False,
    tolerance: float = 1e-10,
    start: Array | None = None,
) -> Settled:
    """Let a tree come to rest under each load case.

    Parameters
    ----------
    placed : Placed
        Tree over back.
    cases : tuple of tuple of PointForce
        What acts in each of P cases.
    moments : tuple of float
        Pure pitch and roll moment in every case [N m].
    law : LayerLaw
        All layers in series.
    linear : bool
        One pass from the attitude given, as textbook cases of small rotation ask for.
    tolerance : float
        Force out of balance over the load.
    start : (P, 3) array, optional
        Poses near the ones sought, from a neighbouring problem; a first guess is made if None.
        Linear solves always start level.

    Raises
    ------
    NotConverged
        If the attitude still moves after `PASSES` passes in every case.
    """
    if placed.face.yields is not None:
        return placed.face.yields.settle(
            placed, cases, moments, law, linear=linear, tolerance=tolerance, start=start
        )
    begin = _begun(placed, len(cases), None if linear else start, linear=linear)
    is_near = start is not None and not linear
    parts = list(_passes(placed, cases, moments, law, begin, is_near, linear, tolerance))
    settled = replace(in_order(parts), passes=max(part.passes for _, part in parts))
    if np.all(settled.status == RESTLESS):
        raise NotConverged(
            f"the tree has not come to rest after {PASSES} passes; it still moves by "
            f"{settled.unrest.max():.1e}",
            residual=float(settled.residual.max()),
            iterations=int(settled.iterations.max()),
        )
    return settled


def _passes(
    placed: Placed,
    cases: tuple[tuple[PointForce, ...], ...],
    moments: tuple[float, float],
    law: LayerLaw,
    begin: tuple[Array, Array, Array],
    is_near: bool,
    linear: bool,
    tolerance: float,
) -> Iterator[tuple[NDArray[np.intp], Settled]]:
    """Yield which cases come to rest, and how, as they do; those need no further passes."""
    pose, s, cover = begin
    walk, going, steps = Walk.begin(pose), np.arange(len(cases)), np.zeros(len(cases), np.int64)
    for passed in range(1, PASSES + 1):
        if passed > 1:
            s, cover = distance(placed, walk.pose, s)
        rows, own = rows_at(placed, walk.pose), tuple(cases[k] for k in going)
        near = np.zeros_like(walk.pose) if is_near or passed > 1 else None
        solution, batch = _solve(
            placed, own, moments, law, walk.pose, rows, s, cover, tolerance, near
        )
        steps = steps + solution.iterations
        done = walk.step(solution.pose, solution.status != BALANCED)
        if linear:
            walk.pose, done = pose + solution.pose, np.ones_like(done)
        elif passed == PASSES:
            status = np.where(done, solution.status, RESTLESS)
            solution, done = replace(solution, status=status), np.ones_like(done)
        if np.any(done):
            settled = _settled(placed, walk, solution, batch, cover, steps)
            yield going[done], some_of(settled, done)
            rest = np.flatnonzero(~done)
            if not len(rest):
                return
            going, steps, walk = going[rest], steps[rest], walk.take(rest)
            s, rows = s[rest], rows[rest]
        s = s - np.matmul(rows, walk.move[:, :, None])[..., 0]


def _begun(
    placed: Placed, count: int, start: Array | None, *, linear: bool
) -> tuple[Array, Array, Array]:
    """Return the poses to begin with (count, 3), distances and cover (count, N)."""
    if start is not None:
        return (np.array(start, float), *distance(placed, start, None))
    guess = np.zeros(3) if linear else resting_pose(placed)
    once = distance(placed, guess[None], None)
    s, cover = (np.tile(one, (count, 1)) for one in once)
    return np.tile(guess, (count, 1)), s, cover


def _solve(
    placed: Placed,
    cases: tuple[tuple[PointForce, ...], ...],
    moments: tuple[float, float],
    law: LayerLaw,
    pose: Array,
    rows: Array,
    s: Array,
    cover: Array,
    tolerance: float,
    start: Array | None,
) -> tuple[ContactSolution, ContactBatch]:
    pairs = [
        resultant(forces, moments, _arms(placed, forces, turn))
        for forces, turn in zip(cases, turned(pose), strict=True)
    ]
    overlap = placed.thickness - s
    under = np.flatnonzero(cover.any(axis=0))
    if not len(under):
        raise InvalidShape("no part of the underside lies over the back", path="placement")
    batch = ContactBatch(
        overlap=overlap.take(under, axis=1),
        rows=rows.swapaxes(1, 2).take(under, axis=2).swapaxes(1, 2),
        area=(placed.patch.area * cover).take(under, axis=1),
        law=law,
        load=np.array([load for load, _ in pairs]),
        pose_stiffness=np.array([stiffness for _, stiffness in pairs]),
    )
    solution = solve_contact(batch, tolerance=tolerance, start=start, strict=False)
    pressure = np.zeros_like(overlap)
    pressure[:, under] = solution.pressure
    moved = overlap + np.matmul(rows, solution.pose[:, :, None])[..., 0]
    return replace(solution, overlap=moved, pressure=pressure), batch


def touching(overlap: Array, shape: tuple[int, int, int]) -> Array:
    """Share of each cell in contact (P, N), from the overlap's range to its neighbours."""
    along, across = np.gradient(overlap.reshape(-1, *shape), axis=(2, 3))
    spread = np.hypot(along, across).reshape(overlap.shape)
    return np.asarray(np.clip(overlap / np.maximum(spread, 1e-9) + 0.5, 0.0, 1.0), float)


def _settled(
    placed: Placed,
    walk: Walk,
    solution: ContactSolution,
    batch: ContactBatch,
    cover: Array,
    steps: NDArray[np.int64],
) -> Settled:
    return Settled(
        pose=walk.pose,
        overlap=solution.overlap,
        pressure=solution.pressure,
        contact=touching(solution.overlap, placed.patch.shape),
        cover=cover,
        load=batch.load,
        stiffness=solution.stiffness - np.asarray(batch.pose_stiffness),
        margin=solution.margin,
        residual=solution.residual,
        iterations=steps,
        passes=walk.passed,
        status=solution.status,
        unrest=walk.unrest,
    )
