"""How one settled load case answers small errors of its inputs, on every third row of cells.

Round a settled pose the distance along each normal, the cover of the cells, the load and its arms
change in proportion to an error. Those changes are found once, by one step of a standard deviation
for each source, and one back where the tree moves, whose edges run through cells: there more and
less are not alike. A draw is then a sum, and only its contact is solved anew. What is left out is
of second order: turning of the normals, and products of two errors. The layers are not linearised:
`matched` puts their law right for each draw at two pressures.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .draws import Source
from .geometry import BackModel, BackSurface, HeightGrid
from .inputs import FitInputs, Solved
from .layers import Layers
from .loads import forces_of, resultant
from .measures import Measure, shape_measures
from .pose import Patch, Placed, arms_at, distance, rows_at
from .profiles import Array
from .sections import withers_clearance
from .support import LayerLaw
from .underside import Underside, underside

EVERY = 3  # rows along the bars; across, where a bar turns on its edges, every cell is needed
STEP = 1e-3  # [m] and [rad] of the pose, to see how overlaps change with it
MATCHED_AT = (4.0e3, 16.0e3)  # [Pa] about the means and the peaks under a saddle
FACTORS = np.geomspace(1 / 64, 64, 193)  # of pressure, among which a law's match is sought


@dataclass(frozen=True, eq=False)
class Shift:
    """What one source does, for all load cases: the inputs with an error of one.

    Attributes
    ----------
    inputs : FitInputs
    rise : (2, n, m) array or None
        Of the back's cells [m]; None if the back stays.
    midline : (n,) array or None
        Rise of the midline [m].
    face : Underside or None
        Where the tree or its place is another: its underside.
    """

    inputs: FitInputs
    rise: Array | None
    midline: Array | None
    face: Underside | None


@dataclass(frozen=True, eq=False)
class Response:
    """A settled case on N coarse cells and its change with each of K sources.

    Every pair is the value and its change per standard deviation of each source: `overlap` (N,) and
    `d_overlap` (K, N) [m]; `cover`; `load` (3,) and `d_load` (K, 3); `stiffness` (3, 3) of the
    pose; `tip` [m]; `bearing` (2, 2), its part that bears, and `reach` (2,), its length, of each
    side behind the tip [m]; `clearance` at the withers [m], nan where not known.
    `rows` (N, 3) are those of the settled pose, `pose` (3,); `turning` (3, 3) is what they leave
    out of the stiffness, see `_turning`.
    """

    placed: Placed
    pose: Array
    rows: Array
    overlap: Array
    d_overlap: Array
    cover: Array
    d_cover: Array
    load: Array
    d_load: Array
    stiffness: Array
    d_stiffness: Array
    turning: Array
    tip: Array
    d_tip: Array
    bearing: Array
    d_bearing: Array
    reach: Array
    d_reach: Array
    clearance: float
    d_clearance: Array


def shifts_of(
    inputs: FitInputs, sources: tuple[Source, ...], surface: BackSurface
) -> tuple[Shift, ...]:
    """Return what more of each source does, then what less does of those that move the tree.

    See `parted` for the amounts that go with them.
    """
    heights = _Heights(inputs, surface)
    more = [_shift(inputs, source.change(inputs, 1.0), heights) for source in sources]
    less = [
        _shift(inputs, source.change(inputs, -1.0), heights)
        for source, shift in zip(sources, more, strict=True)
        if shift.face is not None
    ]
    return (*more, *less)


def parted(rows: Array, shifts: tuple[Shift, ...]) -> Array:
    """Return amounts (R, number of shifts) for rows of amounts (R, K) of the sources."""
    moving = [k for k, shift in enumerate(shifts[: rows.shape[1]]) if shift.face is not None]
    more = rows.copy()
    more[:, moving] = np.maximum(rows[:, moving], 0.0)
    return np.hstack([more, np.maximum(-rows[:, moving], 0.0)])


class _Heights:
    """Heights of a back with an error, on the cells of the back without."""

    def __init__(self, inputs: FitInputs, surface: BackSurface) -> None:
        self.surface = surface
        self.base = self._read(inputs)

    def _read(self, inputs: FitInputs) -> tuple[Array, Array | None]:
        if isinstance(inputs.back, HeightGrid):
            return np.asarray(inputs.back.heights, float), None
        model = BackModel(inputs.back)
        midline = model.midline_height(self.surface.x)
        return midline[:, :, None] - model.depth(self.surface.x, self.surface.y), midline.mean(0)

    def rise(self, inputs: FitInputs) -> tuple[Array, Array | None]:
        """Return the rise of the cells and of the midline [m]."""
        z, midline = self._read(inputs)
        known = midline is not None and self.base[1] is not None
        return z - self.base[0], midline - self.base[1] if known else None  # type: ignore[operator]


def _shift(inputs: FitInputs, changed: FitInputs, heights: _Heights) -> Shift:
    rise = midline = None
    if changed.back is not inputs.back:
        rise, midline = heights.rise(changed)
    moves = changed.tree is not inputs.tree or changed.placement is not inputs.placement
    return Shift(changed, rise, midline, underside(changed.tree) if moves else None)


def shape_shifts(
    inputs: FitInputs, shifts: tuple[Shift, ...], placed: Placed, surface: BackSurface
) -> tuple[list[Measure], Array]:
    """Return the measures of the shape and their change per source (K, number of measures).

    `inputs` are those without error, `placed` the tree on the standing back.
    """
    base = shape_measures(placed, surface, inputs.back.last_rib)
    changes = np.zeros((len(shifts), len(base)))
    for row, shift in zip(changes, shifts, strict=True):
        if shift.rise is None and shift.face is None:
            continue
        back = surface if shift.rise is None else replace(surface, z=surface.z + shift.rise)
        tree = _shifted(placed, shift)
        moved = shape_measures(tree, back, inputs.back.last_rib)
        row[:] = [m.value - b.value for m, b in zip(moved, base, strict=True)]
    return base, changes


def responses_of(
    inputs: FitInputs, group: list[Solved], shifts: tuple[Shift, ...], arch: float | None
) -> list[Response]:
    """Return the responses of load cases on one shape of back.

    `arch` is the height of the arch; the room over the withers is told in the first case only.
    """
    first = group[0].placed
    placed, poses = thinned(first), np.array([one.pose for one in group])
    s, cover = distance(placed, poses, None)
    rows, law = rows_at(placed, poses), inputs.layers.law()
    reached = [_reached(placed, poses, s, cover, shift) for shift in shifts]
    out = []
    for k, one in enumerate(group):
        still = (s[k], cover[k], placed)
        base = _state(inputs, one, still, placed.thickness)
        changes = [
            _changes(one, still, base, shift, (there[0][k], there[1][k], there[2]))
            for shift, there in zip(shifts, reached, strict=True)
        ]
        pairs = [
            np.asarray(part, float)
            for value, change in zip(base, zip(*changes, strict=True), strict=True)
            for part in (value, change)
        ]
        height = arch if one.case == inputs.cases[0] else None
        room = _room(one, first, one.surface, height)
        rooms = np.array([_room_shift(one, shift, height, room) for shift in shifts], float)
        pairs.insert(8, _turning(placed, one.pose, rows[k], cover[k], law))
        out.append(Response(placed, one.pose, rows[k], *pairs, room, rooms))  # type: ignore[arg-type,call-arg]
    return out


def _turning(placed: Placed, pose: Array, rows: Array, cover: Array, law: LayerLaw) -> Array:
    """Stiffness (3, 3) by which a turning tree differs from one that only presses along normals.

    Notes
    -----
    Where tree and back are not quite parallel, a turn also slides the underside along; the overlap
    then changes by other rows D than the B that the pressures work with. What is missing from
    B' k B is B' k (D - B), taken symmetric. It matters where little holds the tree upright.
    """
    steps = np.concatenate([np.eye(3), -np.eye(3)]) * STEP
    s, _ = distance(placed, pose + steps, None)
    found = (s[3:] - s[:3]).T / (2 * STEP)
    overlap = placed.thickness - distance(placed, pose[None], None)[0][0]
    tangent = law.pressure_and_tangent(np.maximum(overlap, 0.0))[1] * (overlap > 0)
    slid = rows.T @ ((tangent * placed.patch.area * cover)[:, None] * (found - rows))
    return np.asarray((slid + slid.T) / 2, float)


Reached = tuple[Array, Array, Placed]  # distances, covers, and the tree they are to


def _reached(placed: Placed, poses: Array, s: Array, cover: Array, shift: Shift) -> Reached:
    """Distances and covers in all poses, of another tree where the source makes it one."""
    if shift.face is None:
        return s, cover, placed
    tree = _shifted(placed, shift)
    return (*distance(tree, poses, s), tree)


def _state(inputs: FitInputs, one: Solved, reached: Reached, thickness: Array) -> tuple[Array, ...]:
    """Overlap, cover, load, stiffness, tip, bearing part and reach at the settled pose."""
    s, cover, tree = reached
    return (thickness - s, cover, *_loaded(inputs, one, tree), *_ends(tree))


def _ends(placed: Placed) -> tuple[Array, ...]:
    """Front tip, bearing part and length of each side."""
    return np.asarray(placed.tip), placed.face.bearing, np.asarray(placed.face.length, float)


def thinned(placed: Placed) -> Placed:
    """Return the tree over some of the rows of cells, each standing for its neighbours too."""
    patch = placed.patch
    n, m = len(range(EVERY // 2, patch.shape[1], EVERY)), patch.shape[2]

    def pick(values: NDArray[Any]) -> NDArray[Any]:
        whole = values.reshape(*patch.shape, -1)[:, EVERY // 2 :: EVERY]
        return whole.reshape(2 * n * m, *values.shape[1:])

    few = Patch(
        points=pick(patch.points),
        normals=pick(patch.normals),
        side=pick(patch.side),
        area=pick(patch.area) * EVERY,
        rows=patch.rows,
        shape=(2, n, m),
        step_x=patch.step_x * EVERY,
        step_y=patch.step_y,
    )
    return replace(placed, patch=few, thickness=pick(_spread(placed)))


def _spread(placed: Placed) -> Array:
    """Pad and shims on every cell (N,) [m]."""
    return np.broadcast_to(placed.thickness, placed.patch.side.shape)


def _shifted(placed: Placed, shift: Shift) -> Placed:
    """The same cells under a tree of other dimensions, or at another place; the axis stays."""
    if shift.face is None:
        return placed
    inputs, face, patch = shift.inputs, shift.face, placed.patch
    tip = inputs.placement.tip
    bearing = face.bearing[patch.side]
    along = (patch.points[:, 0] - tip - bearing[:, 0]) / (bearing[:, 1] - bearing[:, 0])
    shims = inputs.layers.shims.thickness(along, patch.side)
    return replace(placed, face=face, tip=tip, thickness=inputs.layers.pad_thickness + shims)


def _loaded(inputs: FitInputs, one: Solved, placed: Placed) -> tuple[Array, Array]:
    case = next(case for case in inputs.cases if case.name == one.case.name)
    forces = forces_of(inputs.loads, inputs.tree, case)
    return resultant(forces, inputs.loads.moments, arms_at(placed, forces, one.pose))


def _changes(
    one: Solved, still: Reached, base: tuple[Array, ...], shift: Shift, moved: Reached
) -> tuple[Array, ...]:
    """Change of all that `_state` gives with one source."""
    patch = still[2].patch
    if shift.rise is not None:
        n, m = patch.shape[1:]
        rise = shift.rise[:, patch.rows][:, EVERY // 2 :: EVERY].reshape(2 * n * m)
        return (rise * patch.normals[:, 2], *(np.zeros_like(part) for part in base[1:]))
    new = _state(shift.inputs, one, moved, moved[2].thickness)
    return tuple(np.subtract(a, b) for a, b in zip(new, base, strict=True))


def _room(one: Solved, placed: Placed, surface: BackSurface, arch: float | None) -> float:
    room = None if arch is None else withers_clearance(placed, one.pose, surface, arch)
    return float("nan") if room is None else room


def _room_shift(one: Solved, shift: Shift, arch: float | None, room: float) -> float:
    """Change of the room over the withers with one source, the pose held [m]."""
    if not np.isfinite(room):
        return 0.0
    if shift.midline is not None:
        x = one.placed.tip + float(one.placed.face.bearing[:, 0].mean())
        return -float(np.interp(x, one.surface.x, shift.midline))
    if shift.face is not None:
        return _room(one, _shifted(one.placed, shift), one.surface, arch) - room
    return 0.0


def matched(nominal: Layers, drawn: list[Layers]) -> tuple[Array, Array]:
    """Return factors on pressure and on compression that turn the nominal law into drawn ones.

    Notes
    -----
    p = s P(u / c) with P the nominal law meets each drawn law at the pressures `MATCHED_AT`: the
    ratio of both compressions fixes s, one of them c. Exact where all layers change alike.
    """
    law, low = nominal.law(), np.array(MATCHED_AT)
    ratio = law.compression(low[1] / FACTORS) / law.compression(low[0] / FACTORS)
    at = np.array([_compression(layers, low) for layers in drawn]).reshape(-1, 2)
    rising = np.maximum.accumulate(ratio + 1e-12 * np.arange(len(ratio)))
    factor = np.exp(np.interp(at[:, 1] / at[:, 0], rising, np.log(FACTORS)))
    return factor, at[:, 0] / law.compression(low[0] / factor)


def _compression(layers: Layers, pressure: Array) -> Array:
    """Compression of all layers under pressures, without building their series [m]."""
    there = [layer for layer in (layers.tissue, layers.pad, layers.flock) if layer is not None]
    return np.asarray(sum(_law(layer.law(), pressure) for layer in there), float)


def _law(law: LayerLaw, pressure: Array) -> Array:
    return np.asarray(law.compression(pressure), float)
