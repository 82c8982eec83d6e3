"""Numbers drawn from a load field and from the shapes, each with its zone, side and unit.

Zones along: cranial, middle and caudal thirds of the bearing part (flares count with the third they
adjoin); across: inner and outer half of the bar at each point. Means are over the area in contact,
as a pressure mat reads them; shares are of the vertical force, over the whole zone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .geometry import BackSurface
from .pose import Patch, Placed, Settled
from .profiles import SIDES, SLOPE_BAND, STRAIGHT_EDGE, Array

ZONES = ("cranial", "middle", "caudal")
NOTED_PRESSURE = 11.0e3  # [Pa] customary 'too much' area (Byström 2010; Belock 2012; Clayton 2013)
GAP_RUN = 0.1016  # [m] 4 in, over which a gap must hold to count as bridging; our definition
LOADED_ROW = 0.05  # of the mean load per row; below it a row is not counted as support
BEARING_ROW = 0.25  # of an even share; a row that carries less touches but does not bear; set here


@dataclass(frozen=True)
class Measure:
    """A number: what, of which part, how much. Units: m, m2, Pa, N, rad, N m/rad, 1."""

    code: str
    value: float
    unit: str
    zone: str = ""
    side: str = ""


@dataclass(frozen=True, eq=False)
class Field:
    """One load case on the cells near the tree, arrays of shape (2, n, m), side first.

    `along` runs from 0 to 1 over the bearing part; `inward` is True on a bar's inner half; `face`
    is the area of back under the tree, touched or not [m2].
    """

    pressure: Array
    gap: Array
    force: Array
    normal_force: Array
    touched: Array
    face: Array
    x: Array
    y: Array
    along: Array
    inward: NDArray[np.bool_]
    step: float


@dataclass(frozen=True, eq=False)
class Layout:
    """Where the cells near a tree lie on its bars, the same for every load case; (N,) arrays."""

    along: Array
    inward: NDArray[np.bool_]


def layout_of(placed: Placed) -> Layout:
    """Return the place of each cell along and across the bars."""
    patch = placed.patch
    x, y = patch.points[:, 0] - placed.tip, np.abs(patch.points[:, 1])
    bearing = placed.face.bearing[patch.side]
    columns = patch.shape[2]
    row_x = x.reshape(patch.shape)[0, :, 0]
    middles = [np.mean(placed.face.edges(side, row_x), axis=0) for side in range(2)]
    return Layout(
        along=(x - bearing[:, 0]) / (bearing[:, 1] - bearing[:, 0]),
        inward=y < np.repeat(np.concatenate(middles), columns),
    )


def field_of(placed: Placed, settled: Settled, case: int, layout: Layout) -> Field:
    """Return one load case of a settled tree as a field."""
    patch = placed.patch
    area = patch.area * settled.cover[case]
    pressure = settled.pressure[case]
    flat = {
        "pressure": pressure * (area > 0),
        "gap": np.where(area > 0, -settled.overlap[case], np.nan),
        "force": pressure * area * patch.normals[:, 2],
        "normal_force": pressure * area,
        "touched": area * settled.contact[case],
        "face": area,
        "x": patch.points[:, 0],
        "y": np.abs(patch.points[:, 1]),
        "along": layout.along,
        "inward": layout.inward,
    }
    return Field(step=patch.step_x, **{name: v.reshape(patch.shape) for name, v in flat.items()})


def whole_grid(values: Array, patch: Patch, surface: BackSurface, fill: float) -> Array:
    """Return a patch's values (N,) on the whole grid (2, n, m), `fill` elsewhere."""
    out = np.full(surface.z.shape, fill)
    out[:, patch.rows] = values.reshape(patch.shape)
    return out


def load_measures(field: Field) -> list[Measure]:
    """Return totals, shares, means and peaks by side, third and half.

    Notes
    -----
    'share_over_face' is the share of the load on a third over that third's share of the face under
    which there is back: 1 everywhere under an even pressure on a level face.
    """
    total = float(field.force.sum())
    parts = _by_part(field)
    face = _by_third(field, field.face) / field.face.sum()
    share = _by_third(field, field.force) / total
    out = [
        Measure("load", total, "N"),
        Measure("contact_area", float(field.touched.sum()), "m2"),
        Measure("noted_area", float(field.touched[field.pressure > NOTED_PRESSURE].sum()), "m2"),
        *_of_part(parts, total),
        *(
            Measure("share_over_face", float(share[i] / face[i]), "1", zone)
            for i, zone in enumerate(ZONES)
            if face[i] > 0
        ),
    ]
    for i, zone in enumerate(ZONES):
        out += _of_part(parts[:, :, i], total, zone=zone)
    for side, name in enumerate(SIDES):
        own = parts[:, side]
        out += _of_part(own, total, side=name)
        for i, zone in enumerate(ZONES):
            out += _of_part(own[:, i], total, zone=zone, side=name)
        for i, zone in enumerate(("inner", "outer")):
            out += _of_part(own[:, :, i], total, zone=zone, side=name)
    return out


def _third(field: Field) -> NDArray[np.intp]:
    return np.clip(np.floor(3 * field.along), 0, 2).astype(np.intp)


def _by_third(field: Field, values: Array) -> Array:
    sums = np.bincount(_third(field).reshape(-1), values.reshape(-1), minlength=3)
    return np.asarray(sums, float)


def _by_part(field: Field) -> Array:
    """Force, normal force, area touched and peak (4) by side, third and half (2, 3, 2)."""
    third = _third(field)
    side = np.arange(2)[:, None, None]
    part = (6 * side + 2 * third + ~field.inward).reshape(-1)
    sums = [
        np.bincount(part, values.reshape(-1), minlength=12)
        for values in (field.force, field.normal_force, field.touched)
    ]
    peak = np.zeros(12)
    np.maximum.at(peak, part, field.pressure.reshape(-1))
    return np.array([*sums, peak]).reshape(4, 2, 3, 2)


def _of_part(parts: Array, total: float, *, zone: str = "", side: str = "") -> list[Measure]:
    force, normal_force, touched = parts[:3].reshape(3, -1).sum(axis=1)
    mean = normal_force / touched if touched > 0 else 0.0
    return [
        Measure("share", float(force / total), "1", zone, side),
        Measure("mean_pressure", float(mean), "Pa", zone, side),
        Measure("peak_pressure", float(parts[3].max()), "Pa", zone, side),
    ]


def support_measures(field: Field, last_rib: float | None) -> list[Measure]:
    """Return where each side bears: lengths, start and end, load behind the last rib.

    Notes
    -----
    'contact_length' counts the rows that touch at all, and soft layers let almost everything touch.
    'bearing_length' counts those that carry at least a quarter of the share they would have if the
    load were spread evenly over the bearing part.
    """
    out = []
    for side, name in enumerate(SIDES):
        rows = field.force[side].sum(axis=1)
        x = field.x[side, :, 0]
        loaded = np.flatnonzero(rows > LOADED_ROW * rows.sum() / max(np.count_nonzero(rows), 1))
        if not len(loaded):
            continue
        start, end = x[loaded[0]] - field.step / 2, x[loaded[-1]] + field.step / 2
        touched = np.max(np.where(field.pressure[side] > 0, 1.0, 0.0), axis=1)
        out += [
            Measure("contact_length", float(touched.sum() * field.step), "m", side=name),
            Measure("bearing_length", _bearing_length(field, side), "m", side=name),
            Measure("support_start", float(start), "m", side=name),
            Measure("support_end", float(end), "m", side=name),
        ]
        if last_rib is not None:
            behind = np.clip((x - last_rib) / field.step + 0.5, 0.0, 1.0)
            share = float((rows * behind).sum() / rows.sum())
            out.append(Measure("share_behind_last_rib", share, "1", side=name))
    return out


def _bearing_length(field: Field, side: int) -> float:
    rows = field.force[side].sum(axis=1)
    meant = np.mean((field.along[side] >= 0) & (field.along[side] <= 1), axis=1) > 0.5
    even = rows.sum() / max(np.count_nonzero(meant), 1)
    return float(np.count_nonzero(rows >= BEARING_ROW * even) * field.step)


def gap_measures(field: Field) -> list[Measure]:
    """Return the gap under the middle of each side.

    Notes
    -----
    The gap of a row is the smallest across it, so air is air from edge to edge. 'bridge_gap' is the
    largest gap that holds over 4 in between the ends that touch; 'largest_gap' needs no length.
    """
    out = []
    for side, name in enumerate(SIDES):
        gap = row_gap(field, side)
        if not np.isfinite(gap).any():
            continue
        inner = gap[_between_ends(gap)]
        run = max(1, round(GAP_RUN / field.step))
        out += [
            Measure("bridge_gap", _held(inner, run), "m", side=name),
            Measure("largest_gap", float(max(inner.max(initial=0.0), 0.0)), "m", side=name),
            Measure("gap_length", float((inner > 0).sum() * field.step), "m", side=name),
        ]
    return out


def row_gap(field: Field, side: int) -> Array:
    """Return the smallest gap across each row [m], negative where pressed; nan off the tree."""
    gap = np.where(np.isfinite(field.gap[side]), field.gap[side], np.inf).min(axis=1)
    return np.where(np.isfinite(gap), gap, np.nan)


def _between_ends(gap: Array) -> slice:
    touching = np.flatnonzero(gap < 0)
    return slice(0, 0) if not len(touching) else slice(int(touching[0]), int(touching[-1]) + 1)


def _held(gap: Array, run: int) -> float:
    if len(gap) < run:
        return 0.0
    windows = np.lib.stride_tricks.sliding_window_view(gap, run)
    return float(max(windows.min(axis=1).max(), 0.0))


def balance_measures(placed: Placed, settled: Settled, case: int, field: Field) -> list[Measure]:
    """Return attitude, centre of pressure, resultant, stiffness about the axis and its margin.

    'contact_push' is the level part along the back of what the contact pushes with, toward the tail
    positive; girth and friction hold against it.
    """
    heave, pitch, roll = (float(v) for v in settled.pose[case])
    down, moment_y, moment_x = settled.load[case]
    total = field.force.sum()
    signed = field.y * np.array([-1.0, 1.0])[:, None, None]
    stiffness = settled.stiffness[case]
    return [
        Measure("heave", heave, "m"),
        Measure("pitch", pitch, "rad"),
        Measure("roll", roll, "rad"),
        Measure("centre_of_pressure_x", float((field.force * field.x).sum() / total), "m"),
        Measure("centre_of_pressure_y", float((field.force * signed).sum() / total), "m"),
        Measure("resultant_x", float(placed.axis[0] + moment_y / down), "m"),
        Measure("resultant_y", float(-moment_x / down), "m"),
        Measure("axis_x", float(placed.axis[0]), "m"),
        Measure("axis_z", float(placed.axis[2] - heave), "m"),
        Measure("pitch_stiffness", float(stiffness[1, 1]), "N m/rad"),
        Measure("roll_stiffness", float(stiffness[2, 2]), "N m/rad"),
        Measure("stability_margin", float(settled.margin[case]), "1"),
        Measure(
            "contact_push", float(placed.patch.normals[:, 0] @ field.normal_force.ravel()), "N"
        ),
    ]


def shape_measures(placed: Placed, surface: BackSurface, last_rib: float | None) -> list[Measure]:
    """Return how tree and back differ before any load: angles, twist, rock, length, channel.

    Notes
    -----
    Angles are of straight lines fitted across at the front and rear end of the bearing part: over
    the bar's whole width, and over the back from 60 to 140 mm off the midline. Positive differences
    mean the tree is steeper (too narrow an angle), twists more, or curves less than the back
    (bridges), the last scaled to 17 in.
    """
    out = []
    for side, name in enumerate(SIDES):
        front, rear = placed.face.bearing[side]
        differences = [_angles(placed, surface, side, x) for x in (front, rear)]
        (tree_front, back_front), (tree_rear, back_rear) = differences
        twist = (tree_front - tree_rear) - (back_front - back_rear)
        out += [
            Measure("angle_mismatch", tree_front - back_front, "rad", "cranial", name),
            Measure("angle_mismatch", tree_rear - back_rear, "rad", "caudal", name),
            Measure("back_slope", back_front, "rad", "cranial", name),
            Measure("back_slope", back_rear, "rad", "caudal", name),
            Measure("twist_mismatch", twist, "rad", side=name),
            Measure("rock_mismatch", _rock_mismatch(placed, surface, side), "m", side=name),
        ]
        if last_rib is not None:
            ahead = float(last_rib - placed.tip - rear)
            out.append(Measure("ahead_of_last_rib", ahead, "m", side=name))
    x = np.linspace(placed.face.bearing[:, 0].max(), placed.face.bearing[:, 1].min(), 60)
    channel = sum(placed.face.edges(side, x)[0] for side in range(2))
    out.append(Measure("channel_width", float(np.min(channel)), "m"))
    return [measure for measure in out if np.isfinite(measure.value)]


def _angles(placed: Placed, surface: BackSurface, side: int, x: float) -> tuple[float, float]:
    """Slopes of tree and back [rad] across the bar at x behind the tip."""
    inner, outer = (float(edge[0]) for edge in placed.face.edges(side, np.array([x])))
    y = np.linspace(inner, outer, 25)
    at = np.full(y.shape, side, np.intp)
    tree = placed.face.height(at, np.full(y.shape, x), y)[0]
    band = np.linspace(*SLOPE_BAND, 25)
    back = np.interp(band, surface.y, row_at(surface, side, placed.tip + x))
    return _slope(y, tree), _slope(band, back)


def _slope(y: Array, z: Array) -> float:
    if np.ptp(y) < 1e-6:
        return float("nan")
    off = y - y.mean()
    return float(np.arctan(-(off @ z) / (off @ off)))


def row_at(surface: BackSurface, side: int, x: float) -> Array:
    """Return the heights (m,) of one side at any x, between rows [m]."""
    return np.asarray(rows_at(surface, side, np.array([x]))[0], float)


def rows_at(surface: BackSurface, side: int, x: Array) -> Array:
    """Return the heights (k, m) of one side at k places x, between rows [m]."""
    at = np.clip((x - surface.x[0]) / (surface.x[1] - surface.x[0]), 0, len(surface.x) - 1.000001)
    i = at.astype(np.intp)
    share = (at - i)[:, None]
    z = surface.z[side]
    return np.asarray(z[i] * (1 - share) + z[i + 1] * share, float)


def _rock_mismatch(placed: Placed, surface: BackSurface, side: int) -> float:
    """Sagitta of the gap along the bar line, from its fitted curvature, over 17 in [m]."""
    front, rear = placed.face.bearing[side]
    x = np.linspace(front, rear, 41)
    y = np.full(x.shape, placed.face.line[side])
    tree = placed.face.height(np.full(x.shape, side, np.intp), x, y)[0]
    rows = rows_at(surface, side, placed.tip + x)
    back = np.array([np.interp(y[0], surface.y, row) for row in rows])
    # At even steps the square less its mean stands square on level and tilt: a fit in one product.
    bend = (x - x.mean()) ** 2
    bend -= bend.mean()
    curvature = (bend @ (tree - back)) / (bend @ bend)
    return float(-curvature * STRAIGHT_EDGE**2 / 4)
