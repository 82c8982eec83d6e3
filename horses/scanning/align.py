"""Lays a scan on its midline plane, level, with the origin at the shoulder blades.

The midline plane runs through the marks on the spine and is turned about them until the back,
mirrored in it, falls on itself: a trimmed point-to-plane fit of the mirror image. Mirroring alone
could find the whole plane (BY_MIRROR), but it moves the midline off the spine into the middle of
the muscle, and a half that is 10 mm narrower then looks even: it is not the first choice. Neither
can tell a side that is narrower along its whole length from a horse that leans: one degree of lean
moves left against right by about 9 mm, 15 cm down. What is left over is told, never taken out.

References
----------
Y. Chen and G. Medioni, Object modelling by registration of multiple range images, Image and Vision
Computing 10 (1992) 145-155 (distance to the tangent plane) [memory].
D. Chetverikov et al., The trimmed iterative closest point algorithm, ICPR 2002 [memory].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from horses.scanning.landmarks import Marks
from horses.scanning.surface import Array, CannotUseScan, Surface

KEPT_SHARE = 0.8  # of the mirrored points; the worst fifth may be hair, straps or unevenness
MOST_POINTS = 12_000
ROUNDS = 60
STILL = 1e-6  # [m] and [rad]
HALF_REACH = 0.22  # [m] off the midline: what a saddle can touch, and a little more
BEHIND_RIB = 0.10  # [m]
UP_WITHIN = np.radians(12.0)  # a file's own axis is taken as up when it is this near

SWAPPED = (
    "Left and right look swapped: with these marks the horse would hang under its back. Left is "
    "always the horse's own left."
)
OUT_OF_ORDER = "From head to tail the marks must come as A, R, C. Check where they were set."
TOO_LITTLE = "There is too little of the back between A and R on this scan to find its midline."

BY_SPINE, BY_MIRROR = "spine", "mirror"

SPINE = ("W", "D", "C")
LEVEL_MEASURED = "withers and croup as measured on the horse"
LEVEL_FILE = "the scan's own up direction"
LEVEL_MARKS = "withers and croup taken as equally high (assumption)"


@dataclass(frozen=True, eq=False)
class Alignment:
    """Where the back's own axes lie in a scan.

    Attributes
    ----------
    axes : (3, 3) array
        Rows are x toward the tail, y to the horse's right, z up, in the scan's directions.
    origin : (3,) array
        In the scan [m].
    level_from : str
        What tells which way is level, in words.
    unevenness : float
        Root mean square distance of the back from its own mirror image, halved [m].
    share : float
        Share of the back's points that found their mirror image.
    off_midline : dict
        How far each mark on the spine lies to the right of the midline plane [m].
    """

    axes: Array
    origin: Array
    level_from: str
    unevenness: float
    share: float
    off_midline: dict[str, float]

    def place(self, points: Array) -> Array:
        """Return points (..., 3) of the scan [m] in the back's axes [m]."""
        return np.asarray((points - self.origin) @ self.axes.T)


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector))


def align(
    surface: Surface,
    marks: Marks,
    *,
    croup_over_withers: float | None = None,
    midline: str = BY_SPINE,
) -> Alignment:
    """Return the back's axes in a scan in metres.

    Parameters
    ----------
    surface : Surface
    marks : mapping of (3,) arrays
        AL, AR, W, RL, RR and C [m].
    croup_over_withers : float, optional
        How much higher the croup stands, measured on the horse [m]: tells what is level.
    midline : str
        BY_SPINE: along the marks W, D and C. BY_MIRROR: where both sides mirror best.

    Raises
    ------
    CannotUseScan
        When the marks contradict each other or the back between them is missing.
    """
    right, offset = _first_plane(marks)
    frame = _frame(marks, right)
    _check_marks(surface, marks, frame)
    points, normals = _back_of(surface, marks, frame, offset)
    about = _spine(marks) if midline == BY_SPINE else None
    fit = _fit_mirror(points, normals, _start(right, offset, about), about)
    axes, level_from = _levelled(marks, fit.right, croup_over_withers)
    origin = _origin(surface, marks, axes, fit.offset)
    off = {m: float(marks[m] @ fit.right) - fit.offset for m in SPINE if m in marks}
    return Alignment(axes, origin, level_from, fit.unevenness, fit.share, off)


def _first_plane(marks: Marks) -> tuple[Array, float]:
    """Return the direction of the horse's right and how far along it the midline lies."""
    across = marks["AR"] - marks["AL"] + marks["RR"] - marks["RL"]
    if np.linalg.norm(across) == 0:
        raise CannotUseScan("The left and right marks lie in one place.")
    right = _unit(across)
    middles = [(marks["AL"] + marks["AR"]) / 2, (marks["RL"] + marks["RR"]) / 2]
    return right, float(np.mean([m @ right for m in middles]))


def _spine(marks: Marks) -> tuple[Array, Array]:
    """Return the middle of the marks on the spine, and its direction toward the tail."""
    spine = np.array([marks[code] for code in SPINE if code in marks])
    return spine.mean(axis=0), _unit(spine[-1] - spine[0])


def _start(right: Array, offset: float, about: tuple[Array, Array] | None) -> _Mirror:
    if about is None:
        return _Mirror(right, offset)
    middle, along = about
    right = _unit(right - (right @ along) * along)
    return _Mirror(right, float(middle @ right))


def _frame(marks: Marks, right: Array) -> Array:
    """Return rough axes: toward the tail from blades to last ribs, square to the midline plane."""
    along = marks["RL"] + marks["RR"] - marks["AL"] - marks["AR"]
    tail = along - (along @ right) * right
    if np.linalg.norm(tail) < 1e-9:
        raise CannotUseScan(OUT_OF_ORDER)
    tail = _unit(tail)
    return np.array([tail, right, np.cross(tail, right)])


def _check_marks(surface: Surface, marks: Marks, frame: Array) -> None:
    spine = (marks["W"] + marks["C"]) / 2
    if (surface.vertices.mean(axis=0) - spine) @ frame[2] > 0:
        raise CannotUseScan(SWAPPED)
    at = {code: float(place @ frame[0]) for code, place in marks.items()}
    ribs, blades = (at["RL"], at["RR"]), (at["AL"], at["AR"])
    if max(blades) >= min(ribs) or max(ribs) >= at["C"] or at["W"] >= min(ribs):
        raise CannotUseScan(OUT_OF_ORDER)


def _back_of(surface: Surface, marks: Marks, frame: Array, offset: float) -> tuple[Array, Array]:
    """Return points and outward directions of the back between blades and ribs, and a bit more."""
    x, y, _ = (surface.vertices @ frame.T).T
    normals = surface.normals
    sign = _outward(surface, normals, frame)
    front = min(float(marks[m] @ frame[0]) for m in ("AL", "AR"))
    rear = max(float(marks[m] @ frame[0]) for m in ("RL", "RR")) + BEHIND_RIB
    top = sign * (normals @ frame[2]) > 0.2
    kept = (x > front) & (x < rear) & (np.abs(y - offset) < HALF_REACH) & top
    found = np.flatnonzero(kept)
    if len(found) < 200:
        raise CannotUseScan(TOO_LITTLE)
    found = found[:: max(1, len(found) // MOST_POINTS)]
    return surface.vertices[found], sign * normals[found]


def _outward(surface: Surface, normals: Array, frame: Array) -> float:
    """Return -1 where a file lists its triangles the other way round."""
    height = surface.vertices @ frame[2]
    upper = height > np.quantile(height, 0.8)
    return 1.0 if float((normals[upper] @ frame[2]).mean()) >= 0 else -1.0


@dataclass(frozen=True, eq=False)
class _Mirror:
    """A midline plane {p : right . p = offset} and how well the back mirrors in it."""

    right: Array
    offset: float
    unevenness: float = 0.0
    share: float = 0.0
    moved: float = np.inf


@dataclass(frozen=True, eq=False)
class _Cloud:
    """Points of the back about their centre, with their nearest neighbours at hand."""

    centre: Array
    tree: cKDTree
    reach: float


def _centred(points: Array) -> _Cloud:
    centre = points.mean(axis=0)
    tree = cKDTree(points - centre)
    apart = tree.query(tree.data[:500], k=2)[0][:, 1]
    return _Cloud(centre, tree, 4.0 * float(np.median(apart)))


def _fit_mirror(
    points: Array, normals: Array, plane: _Mirror, about: tuple[Array, Array] | None
) -> _Mirror:
    """Return the plane in which the back mirrors best; turned only `about` a line, if given."""
    cloud = _centred(points)
    for _ in range(ROUNDS):
        plane = _improved(plane, cloud, normals, about)
        if plane.moved < STILL:
            break
    return plane


def _improved(
    plane: _Mirror, cloud: _Cloud, normals: Array, about: tuple[Array, Array] | None
) -> _Mirror:
    """Return the plane after one Gauss-Newton step on the trimmed distances."""
    points = np.asarray(cloud.tree.data)
    offset = plane.offset - float(cloud.centre @ plane.right)
    above = points @ plane.right - offset
    mirrored = points - 2.0 * above[:, None] * plane.right
    _, near = cloud.tree.query(mirrored)
    facing, gap = normals[near], mirrored - points[near]
    off = np.einsum("ij,ij->i", facing, gap)
    beside = np.linalg.norm(gap - off[:, None] * facing, axis=1)
    has_partner = beside < cloud.reach
    kept = _trimmed(np.abs(off), has_partner)
    turn, shift = _step(
        _motions(plane.right, cloud.centre, about),
        (plane.right, points[kept], facing[kept], above[kept], off[kept]),
    )
    right = _unit(plane.right + turn)
    rms = float(np.sqrt(np.mean(off[kept] ** 2))) / 2.0
    moved = max(float(np.abs(turn).max()), abs(shift))
    moved_to = offset + shift + float(cloud.centre @ right)
    return _Mirror(right, moved_to, rms, float(np.mean(has_partner)), moved)


def _trimmed(off: Array, has_partner: NDArray[np.bool_]) -> NDArray[np.bool_]:
    if has_partner.sum() < 100:
        raise CannotUseScan(TOO_LITTLE)
    return has_partner & (off <= np.quantile(off[has_partner], KEPT_SHARE))


def _motions(
    right: Array, centre: Array, about: tuple[Array, Array] | None
) -> list[tuple[Array, float]]:
    """Return the ways in which the plane may move: change of its direction, and of its offset."""
    if about is not None:
        middle, along = about
        turn = np.cross(along, right)
        return [(turn, float((middle - centre) @ turn))]
    first = _unit(np.cross(right, np.eye(3)[np.argmin(np.abs(right))]))
    return [(first, 0.0), (np.cross(right, first), 0.0), (np.zeros(3), 1.0)]


def _step(
    motions: list[tuple[Array, float]], state: tuple[Array, Array, Array, Array, Array]
) -> tuple[Array, float]:
    """Return the step in direction and offset that brings the mirror image nearest.

    The mirror image of p is p - 2 (u.p - d) u. When u moves by t and d by s it moves by
    -2 [(t.p - s) u + (u.p - d) t].
    """
    right, points, facing, above, off = state
    along_right = facing @ right
    columns = [
        -2.0 * ((points @ turn - shift) * along_right + above * (facing @ turn))
        for turn, shift in motions
    ]
    step, *_ = np.linalg.lstsq(np.stack(columns, axis=1), -off, rcond=None)
    turn = sum((a * turn for a, (turn, _) in zip(step, motions, strict=True)), np.zeros(3))
    return turn, float(sum(a * shift for a, (_, shift) in zip(step, motions, strict=True)))


def _levelled(marks: Marks, right: Array, croup_over_withers: float | None) -> tuple[Array, str]:
    along = marks["C"] - marks["W"]
    along = along - (along @ right) * right
    length = float(np.linalg.norm(along))
    level = _axes(along, right)
    if croup_over_withers is not None and abs(croup_over_withers) < length:
        angle = np.arcsin(croup_over_withers / length)
        tail = np.cos(angle) * level[0] - np.sin(angle) * level[2]
        return _axes(tail, right), LEVEL_MEASURED
    up = _own_up(level[2])
    if up is not None:
        return _axes(np.cross(right, up), right), LEVEL_FILE
    return level, LEVEL_MARKS


def _axes(tail: Array, right: Array) -> Array:
    tail = _unit(tail - (tail @ right) * right)
    return np.array([tail, right, np.cross(tail, right)])


def _own_up(up: Array) -> Array | None:
    """Return the file's y or z axis when it is about up: phones level what they scan."""
    for axis in (1, 2):
        own: Array = np.eye(3)[axis]
        if up @ own > np.cos(UP_WITHIN):
            return own
    return None


def _origin(surface: Surface, marks: Marks, axes: Array, offset: float) -> Array:
    """Return the skin of the midline level with the rear edge of the more rearward blade."""
    x = max(float(marks[m] @ axes[0]) for m in ("AL", "AR"))
    placed = surface.vertices @ axes.T
    spine_height = float((marks["W"] @ axes[2] + marks["C"] @ axes[2]) / 2)
    near = np.abs(placed[:, 2] - spine_height) < 0.3
    if not near.any():
        raise CannotUseScan(TOO_LITTLE)
    placed = placed[near]
    away = np.hypot(placed[:, 0] - x, placed[:, 1] - offset)
    z = float(np.median(placed[np.argsort(away)[:5], 2]))
    return np.asarray(np.array([x, offset, z]) @ axes)
