"""A tree whose bars bend, settling on a back.

The pose of the fork and the components of the frame (see `frames`) are found together, on the same
cells and layers as a stiff tree's. A cell moves with the section of the bar over it.

Bending is taken along the back's normals like everything else, with small slopes: a bar that goes
down by w at a section brings every cell under it nearer by w times the normal's upright part. That
cells slide along under a bent bar by the slope times the pad's thickness is left out (under 1 mm).
What acts at a height above the bars acts on the turn of what stands there, see `Frame.lean`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from .contact import UNFINISHED, ContactBatch
from .errors import InvalidShape, NotConverged
from .feasibility import support_margin
from .frames import Frame
from .laws import Array, LayerLaw
from .loads import PointForce, resultant
from .measures import Measure
from .newton import Iterate, Problems, iterate
from .passes import PASSES, Walk
from .pose import (
    BALANCED,
    OUTSIDE,
    UNSTABLE,
    Placed,
    Settled,
    arms_at,
    distance,
    resting_pose,
    rows_at,
    touching,
)
from .profiles import SIDES
from .quadrature import CellMean
from .section_cells import SectionCells, section_products
from .stability import stability_margin
from .trees import FlexibleTree, Tree

if TYPE_CHECKING:
    from .underside import Face

RIGID = 3  # heave, pitch, roll
MOST_STEPS = 60
NOT_THERE = -1.0  # [m] overlap of a cell beside the bars


@dataclass(frozen=True, eq=False)
class _Lay:
    """What stays the same from pass to pass: sections, units of the pose, loads on the bars."""

    shape: tuple[int, int]  # sections, cells in each
    motions: Array
    products: csr_array
    expand: NDArray[np.intp]
    unit: Array  # (M,)
    bending: Array  # (P, M, M)
    loads: Array  # (P, M) of upright and level forces on the bars; none on the pose


@dataclass(frozen=True, eq=False)
class Bending:
    """How a face on bending bars settles; `frame` is what can move in it."""

    frame: Frame
    follows_back: bool = False

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
        """Let the tree come to rest under each load case; see `pose.settle`.

        `Settled.bend` holds the components of the frame; `Settled.stiffness` is that about the axis
        with the bars free to bend.
        """
        lay = _laid(self.frame, placed, cases)
        level = np.zeros(RIGID) if linear else resting_pose(placed)
        pose = np.tile(level, (len(cases), 1)) if start is None or linear else np.array(start)
        bend, s = np.zeros((len(cases), self.frame.size)), None
        steps = np.zeros(len(cases), np.int64)
        walk = Walk.begin(pose)
        for passed in range(1, PASSES + 1):
            at = _standing(lay, placed, law, pose, cases, moments, s)
            near = np.concatenate([np.zeros_like(pose), bend], axis=1) * lay.unit
            final, taken = iterate(
                at.problems,
                at.overlap,
                _bonded(lay, self.frame, at) if passed == 1 else near,
                tolerance=tolerance,
                max_iterations=MOST_STEPS,
            )
            steps = steps + taken
            found = final.pose / lay.unit
            status = _status(placed, lay, at, final, tolerance)
            done = walk.step(found[:, :RIGID], status != BALANCED)
            pose = pose + found[:, :RIGID] if linear else walk.pose
            bend = found[:, RIGID:]
            if linear or np.all(done):
                rest = _Rest(pose, bend, steps, passed, status, walk.unrest)
                return _settled(placed, lay, at, final, rest)
            s = at.s - np.matmul(at.rows, walk.move[:, :, None])[..., 0]
        raise NotConverged(
            f"the tree has not come to rest after {PASSES} passes; it still moves by "
            f"{walk.unrest.max():.1e}",
            residual=float(final.residual.max()),
            iterations=int(steps.max()),
        )

    def bent(self, face: Face, bend: Array) -> Face:
        """Return the face as components (E,) bend it, for drawing."""
        x = face.step * np.arange(face.tables.shape[1], dtype=float)
        tables = face.tables.copy()
        twist = self.frame.twist(x) @ bend
        for side, outward in enumerate((-1.0, 1.0)):
            tables[side, :, 0] -= self.frame.deflection(side, x) @ bend
            tables[side, :, 3] -= outward * twist
        return replace(face, tables=tables)

    def sag(self, bend: Array) -> Array:
        """Return how far each bar bends down between fork and cantle, from the chord (2,) [m]."""
        frame = self.frame
        x = np.linspace(frame.fork, frame.cantle, 41)
        out = np.zeros(2)
        for side in range(2):
            w = frame.deflection(side, x) @ bend
            off = w - np.interp(x, x[[0, -1]], w[[0, -1]])
            out[side] = off[np.argmax(np.abs(off))]
        return out


def _laid(frame: Frame, placed: Placed, cases: Sequence[tuple[PointForce, ...]]) -> _Lay:
    _, rows, columns = placed.patch.shape
    x = placed.patch.points[:, 0].reshape(2, rows, columns)[0, :, 0] - placed.tip
    axis = float(placed.axis[0]) - placed.tip
    motions = frame.motions(x, axis).reshape(2 * rows, RIGID, -1)
    normals = placed.patch.normals[:, 2].mean()
    down = np.concatenate([frame.deflection(side, x) for side in range(2)])
    size = np.sqrt(np.mean(down**2, axis=0))
    own = [1.0, float(np.std(x)), float(frame.line.mean())]
    unit = normals * np.concatenate([own, np.where(size > 0, size, 1.0)])
    motions = motions / unit
    products, expand = section_products(motions)
    forces = [_on_bars(frame, case) for case in cases]
    flat = np.moveaxis(motions, 1, 0).reshape(-1, len(unit))
    return _Lay(
        (2 * rows, columns),
        flat,
        products,
        expand,
        unit,
        np.array([stiffness for _, stiffness in forces]),
        np.array([load for load, _ in forces]),
    )


def _on_bars(frame: Frame, forces: tuple[PointForce, ...]) -> tuple[Array, Array]:
    """Generalised load (M,) and stiffness (M, M) of bars and forces, but for those of the pose.

    A weight D at height z over what turns by t adds -D z t2 / 2 to the energy.
    """
    load = np.zeros(RIGID + frame.size)
    stiffness = np.zeros((len(load), len(load)))
    stiffness[RIGID:, RIGID:] = frame.stiffness
    for force in forces:
        (level, aside, up), (x, y, z) = force.force, force.point
        lean = frame.lean(x)
        load[RIGID:] -= up * frame.lowering(x, y, force.through)
        load[RIGID:] += z * (level * lean[0] - aside * lean[1])
        for axis in range(2):
            turn = np.zeros(len(load))
            turn[RIGID:] = lean[axis]
            whole = turn + (np.arange(len(load)) == 1 + axis)
            own = np.outer(whole, whole)
            own[:RIGID, :RIGID] = 0.0  # which `resultant` knows
            stiffness += z * up * own
    return load, stiffness


@dataclass(frozen=True, eq=False)
class _Standing:
    """The problems about one attitude of each case."""

    s: Array  # (P, N) distances along the normals [m]
    cover: Array
    rows: Array
    pairs: list[tuple[Array, Array]]  # load and stiffness of the forces on the pose
    overlap: Array
    problems: Problems


def _standing(
    lay: _Lay,
    placed: Placed,
    law: LayerLaw,
    pose: Array,
    cases: tuple[tuple[PointForce, ...], ...],
    moments: tuple[float, float],
    guess: Array | None,
) -> _Standing:
    s, cover = distance(placed, pose, guess)
    rows = rows_at(placed, pose)
    pairs = [
        resultant(forces, moments, arms_at(placed, forces, q))
        for forces, q in zip(cases, pose, strict=True)
    ]
    overlap = np.where(cover > 0, placed.thickness - s, NOT_THERE)
    area = placed.patch.area * cover
    problems = _problems(lay, law, pose, rows, area, pairs)
    return _Standing(s, cover, rows, pairs, overlap, problems)


def _problems(
    lay: _Lay,
    law: LayerLaw,
    pose: Array,
    rows: Array,
    area: Array,
    pairs: list[tuple[Array, Array]],
) -> Problems:
    if not area.any():
        raise InvalidShape("no part of the underside lies over the back", path="placement")
    # The pose counts from where it is, the bending from nothing: what leans already, leans.
    load = lay.loads - np.matmul(lay.bending[:, :, 1:RIGID], pose[:, 1:, None])[..., 0]
    load[:, :RIGID] += np.array([load for load, _ in pairs])
    geometric = lay.bending.copy()
    geometric[:, :RIGID, :RIGID] += np.array([stiffness for _, stiffness in pairs])
    total = area.sum(axis=1)
    mean = np.maximum(load[:, 0], 1e-9) / total
    scaled = load / lay.unit
    by_component = np.ascontiguousarray(rows.swapaxes(1, 2))
    return Problems(
        cells=SectionCells(
            by_component.reshape(len(rows), RIGID, *lay.shape),
            area.reshape(len(rows), *lay.shape),
            lay.motions,
            lay.products,
            lay.expand,
        ),
        mean=CellMean(law, 1),
        load=scaled,
        geometric=geometric / (lay.unit[:, None] * lay.unit),
        size=np.abs(scaled).max(axis=1),
        reference=total * mean / law.compression(mean),
    )


def _bonded(lay: _Lay, frame: Frame, at: _Standing) -> Array:
    """Pose (P, M) if the layer also pulled and nothing leaned, to start from."""
    problems = at.problems
    even = problems.reference / problems.cells.resultant(np.ones_like(at.overlap))[:, 0]
    layer = even[:, None] * (at.overlap > NOT_THERE)
    whole = problems.cells.stiffness(layer)
    bars = lay.unit[RIGID:]
    whole[:, RIGID:, RIGID:] += frame.stiffness / (bars[:, None] * bars)
    force = problems.load - problems.cells.resultant(layer * at.overlap)
    return np.asarray(np.linalg.solve(whole, force[:, :, None])[:, :, 0], float)


def _status(
    placed: Placed, lay: _Lay, at: _Standing, final: Iterate, tolerance: float
) -> NDArray[np.int64]:
    """Why a case has not balanced; bars take what acts within them, so the cells carry the rest."""
    status = np.zeros(len(at.rows), np.int64)
    _, margin = _held(lay, at, final)
    for k in np.flatnonzero(~(final.residual <= max(10.0 * tolerance, 1e-12))):
        load, _ = at.pairs[k]
        single = ContactBatch(
            overlap=np.zeros((1, at.rows.shape[1])),
            rows=at.rows[k],
            area=placed.patch.area * at.cover[k],
            law=at.problems.mean.law,
            load=load[None],
        )
        if support_margin(single) <= 0.0:
            status[k] = OUTSIDE
        else:
            status[k] = UNFINISHED if margin[k] > 0.0 else UNSTABLE
    status[(status == BALANCED) & (margin < 0.0)] = UNSTABLE
    return status


def _held(lay: _Lay, at: _Standing, final: Iterate) -> tuple[Array, Array]:
    """Stiffness of the pose with the bars free to bend (P, 3, 3), and what leaning leaves of it."""
    geometric = np.array([stiffness for _, stiffness in at.pairs])
    assert at.problems.geometric is not None
    total = (final.stiffness + at.problems.geometric) * (lay.unit[:, None] * lay.unit)
    stiffness = condensed(total) - geometric
    return stiffness, stability_margin(stiffness, geometric)


@dataclass(frozen=True, eq=False)
class _Rest:
    """Where the cases came to rest, and how."""

    pose: Array
    bend: Array
    steps: NDArray[np.int64]
    passed: int
    status: NDArray[np.int64]
    unrest: Array


def _settled(placed: Placed, lay: _Lay, at: _Standing, final: Iterate, rest: _Rest) -> Settled:
    stiffness, margin = _held(lay, at, final)
    return Settled(
        pose=rest.pose,
        overlap=final.strain,
        pressure=final.stress,
        contact=touching(final.strain, placed.patch.shape),
        cover=at.cover,
        load=np.array([load for load, _ in at.pairs]),
        stiffness=stiffness,
        margin=margin,
        residual=final.residual,
        iterations=rest.steps,
        passes=rest.passed,
        status=rest.status,
        unrest=rest.unrest,
        bend=rest.bend,
    )


def condensed(stiffness: Array) -> Array:
    """Return the stiffness (P, 3, 3) of the pose when all other components (P, M, M) follow it.

    References
    ----------
    R. J. Guyan, Reduction of stiffness and mass matrices, AIAA J. 3 (1965) 380 [memory].
    """
    own, across = stiffness[:, :RIGID, :RIGID], stiffness[:, RIGID:, :RIGID]
    rest = np.linalg.solve(stiffness[:, RIGID:, RIGID:], across)
    return np.asarray(own - np.matmul(across.swapaxes(1, 2), rest), float)


def as_bent(placed: Placed, settled: Settled, case: int) -> Placed:
    """Return a tree with its bars as one load case bends them, for drawing; stiff ones as given."""
    bending = placed.face.yields
    if not isinstance(bending, Bending) or settled.bend is None:
        return placed
    return replace(placed, face=bending.bent(cast("Face", placed.face), settled.bend[case]))


def bending_measures(placed: Placed, settled: Settled, case: int) -> list[Measure]:
    """Return how far each bar of a bending tree sags between fork and cantle under a load case."""
    bending = placed.face.yields
    if not isinstance(bending, Bending) or settled.bend is None:
        return []
    sags = bending.sag(settled.bend[case])
    return [Measure("bar_sag", float(s), "m", side=n) for s, n in zip(sags, SIDES, strict=True)]


def flex_measures(tree: Tree) -> list[Measure]:
    """Return the set of each bar, left less right, and the stiffer bar over the softer one."""
    if not isinstance(tree, FlexibleTree):
        return []
    left, right = tree.left, tree.right
    stiffness = (left.bending_stiffness, right.bending_stiffness)
    return [
        Measure("bar_set", left.set_rock, "m", side="left"),
        Measure("bar_set", right.set_rock, "m", side="right"),
        Measure("set_difference", left.set_rock - right.set_rock, "m"),
        Measure("stiffness_ratio", max(stiffness) / min(stiffness), "1"),
    ]
