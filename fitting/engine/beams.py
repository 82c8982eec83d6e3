"""Bars that bend: Hermite beam elements on a layer that pushes and never pulls.

The bar's downward deflection is w(x) = heave + pitch x + the elastic part, which is zero at two
inner nodes; so the first two pose components are those of a rigid bar, and the contact solver needs
nothing new: a row of B holds the shape functions at a point of the bar, the bending stiffness is
a pose stiffness. Conventions as in `contact`: x from the bar's middle [m], loads and deflections
positive down, moments positive where they make the bar sag (ends up).

Bending only: Euler and Bernoulli's beam, for bars long beside their thickness; no twist of the bar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.legendre import leggauss

from .batch import ContactBatch
from .errors import InvalidShape
from .laws import Array, LayerLaw


@dataclass(frozen=True)
class Beam:
    """An even bar.

    Attributes
    ----------
    length, width : float
        [m].
    bending_stiffness : float
        E I [N m2]; zero for a limp one.
    elements : int
        Of equal length.
    points : int
        Points per element at which the layer is felt (Gauss's rule).
    """

    length: float
    width: float
    bending_stiffness: float
    elements: int = 20
    points: int = 6

    def __post_init__(self) -> None:
        """Check the ranges."""
        if self.elements < 2 or self.points < 2:
            raise InvalidShape("needs at least two elements and two points", path="elements")
        for name in ("length", "width"):
            if not getattr(self, name) > 0.0:
                raise InvalidShape(f"must be positive, got {getattr(self, name)!r}", path=name)
        if not self.bending_stiffness >= 0.0:
            raise InvalidShape(
                f"must not be negative, got {self.bending_stiffness!r}", path="bending_stiffness"
            )

    @property
    def step(self) -> float:
        """Length of an element [m]."""
        return self.length / self.elements

    def nodes(self) -> Array:
        """Return the ends of the elements (elements + 1,), x from the middle [m]."""
        return self.step * np.arange(self.elements + 1, dtype=float) - 0.5 * self.length

    def felt_at(self) -> tuple[Array, Array]:
        """Return the points where the layer is felt, x (N,) [m], and the area of each [m2]."""
        place, weight = leggauss(self.points)
        starts = np.arange(self.elements) * self.step - 0.5 * self.length
        x = starts[:, None] + 0.5 * (place + 1.0) * self.step
        area = np.tile(0.5 * self.width * self.step * weight, self.elements)
        return x.ravel(), area


def deflection_rows(beam: Beam, x: Array, *, derivative: int = 0) -> Array:
    """Return how the deflection, or a derivative of it, follows from the pose.

    Parameters
    ----------
    beam : Beam
        The bar.
    x : (n,) array
        Places from the middle of the bar [m].
    derivative : {0, 1, 2}
        Deflection, slope or curvature.

    Returns
    -------
    (n, M) array
        Columns: heave, pitch, then deflection and slope of each node, less the deflections of the
        two nodes near the quarters of the bar where the elastic part is zero. (Anywhere would do;
        there the columns are most unlike one another.)

    Notes
    -----
    Hermite's cubics; see O. C. Zienkiewicz and R. L. Taylor, The Finite Element Method, beam
    elements [memory].
    """
    x = np.asarray(x, float)
    nodes = beam.nodes()
    rows = hermite_rows(nodes, x, derivative=derivative)
    quarter = beam.elements // 4
    kept = np.delete(rows, [2 * quarter, 2 * (beam.elements - quarter)], axis=1)
    heave = np.full_like(x, 1.0 if derivative == 0 else 0.0)
    pitch = (x, np.ones_like(x), np.zeros_like(x))[derivative]
    return np.column_stack([heave, pitch, kept])


def hermite_rows(nodes: Array, x: Array, *, derivative: int = 0) -> Array:
    """Return how the deflection of a bar, or a derivative of it, follows from that of its nodes.

    Parameters
    ----------
    nodes : (K,) array
        Ends of the elements, increasing [m].
    x : (n,) array
        Places between the first node and the last [m].
    derivative : {0, 1, 2}
        Deflection, slope or curvature.

    Returns
    -------
    (n, 2 K) array
        Columns: deflection and slope of each node in turn.
    """
    rows = np.zeros((len(x), 2 * len(nodes)))
    element = np.clip(np.searchsorted(nodes, x, side="right") - 1, 0, len(nodes) - 2)
    step = np.diff(nodes)[element]
    shapes = _hermite((x - nodes[element]) / step, step, derivative)
    for local, shape in enumerate(shapes):
        rows[np.arange(len(x)), 2 * element + local] = shape
    return rows


def _hermite(t: Array, step: Array, derivative: int) -> tuple[Array, Array, Array, Array]:
    """Hermite's cubics on the unit interval: value and slope at its start, then at its end."""
    if derivative == 0:
        return (
            1 - 3 * t**2 + 2 * t**3,
            step * (t - 2 * t**2 + t**3),
            3 * t**2 - 2 * t**3,
            step * (t**3 - t**2),
        )
    if derivative == 1:
        rise = (6 * t - 6 * t**2) / step
        return -rise, 1 - 4 * t + 3 * t**2, rise, 3 * t**2 - 2 * t
    bend = (6 - 12 * t) / step**2
    return -bend, (6 * t - 4) / step, bend, (6 * t - 2) / step


def bending_matrix(beam: Beam) -> Array:
    """Return the bending stiffness as a pose stiffness, (M, M); heave and pitch bend nothing."""
    x, share = curvature_points(beam.nodes())
    curvature = deflection_rows(beam, x, derivative=2)
    return beam.bending_stiffness * (curvature.T * share) @ curvature


def curvature_points(nodes: Array) -> tuple[Array, Array]:
    """Return places and weights (n,) [m] that integrate the square of a curvature exactly."""
    place, weight = leggauss(2)  # the curvature is linear along an element
    step = np.diff(nodes)[:, None]
    x = nodes[:-1, None] + 0.5 * (place + 1.0) * step
    return x.ravel(), (0.5 * step * weight).ravel()


def point_loads(beam: Beam, x: Array, force: Array) -> Array:
    """Return the generalised load (M,) of forces [N] at places x [m]."""
    return np.asarray(force, float) @ deflection_rows(beam, np.atleast_1d(x))


def line_load(beam: Beam, per_length: Array | float) -> Array:
    """Return the generalised load (M,) of a load per length [N/m], even or given at `felt_at`."""
    x, area = beam.felt_at()
    force = np.broadcast_to(per_length, x.shape) * area / beam.width
    return np.asarray(force @ deflection_rows(beam, x), float)


def beam_contact(
    beam: Beam, *, law: LayerLaw, load: Array, overlap: Array | None = None
) -> ContactBatch:
    """Return the contact problems of one bar under several loads, for `solve_contact`.

    Parameters
    ----------
    beam : Beam
        The bar.
    law : LayerLaw
        Of the layer beneath.
    load : (P, M) array
        Generalised loads; `point_loads` and `line_load` make them.
    overlap : (N,) or (P, N) array, optional
        Approach of the unloaded bar at `felt_at` [m]: its shape against the back, with any set
        that it has taken; a bar that sits flat by default.
    """
    x, area = beam.felt_at()
    load = np.atleast_2d(np.asarray(load, float))
    start = np.zeros(len(x)) if overlap is None else np.asarray(overlap, float)
    return ContactBatch(
        overlap=np.broadcast_to(start, (len(load), len(x))),
        rows=deflection_rows(beam, x),
        area=area,
        law=law,
        load=load,
        pose_stiffness=bending_matrix(beam),
    )


def bending_moment(
    beam: Beam, pressure: Array, x: float, loads: list[tuple[float, float]]
) -> Array:
    """Return the sagging moment [N m] at x (P,) by statics of the part of the bar before it.

    Parameters
    ----------
    beam : Beam
        The bar.
    pressure : (P, N) array
        At `felt_at` [Pa].
    x : float
        Place [m]; an element's end, so that no element is cut.
    loads : list of (place, force)
        The point loads on the bar [m], [N].
    """
    at, area = beam.felt_at()
    lever = np.maximum(x - at, 0.0) * area
    pushed = sum(force * max(x - place, 0.0) for place, force in loads)
    return np.asarray(np.atleast_2d(pressure) @ lever - pushed, float)


def touching_lengths(beam: Beam, pose: Array, overlap: Array | None = None) -> Array:
    """Return the length in contact [m] of each solved pose (P, M) of a flat bar, or of `overlap`.

    Ends of contact are placed by a straight line between neighbouring points at which the layer
    is felt, and run to the bar's end where its last point touches.
    """
    x, _ = beam.felt_at()
    u = np.atleast_2d(pose) @ deflection_rows(beam, x).T
    u = u if overlap is None else u + overlap
    gaps = np.diff(x)
    a, b = u[:, :-1], u[:, 1:]
    top, span = np.maximum(a, b), np.abs(a - b)
    share = np.clip(top / np.where(span > 0.0, span, 1.0), 0.0, 1.0)
    share = np.where(span > 0.0, share, a > 0.0)
    rims = (u[:, 0] > 0.0) * (x[0] + 0.5 * beam.length) + (u[:, -1] > 0.0) * (
        0.5 * beam.length - x[-1]
    )
    return np.asarray(share @ gaps + rims, float)
