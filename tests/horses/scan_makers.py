"""Scans made from a back whose every height is known, and spoiled the way real scans are.

The back is the engine's: power-law half-profiles through two widths (`power_profile`), and a
parabola along the bar line. What a scan should give back is read from the same formulas.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitting.engine import BackShape, LineProfile, Station, power_profile
from fitting.engine.geometry import BackModel
from horses.scanning.surface import Surface

Array = NDArray[np.float64]
DISTANCES = {"S1": 0.0381, "S2": 0.1397, "S3": 0.2413, "S4": 0.3429, "S5": 0.4573}
SUPPORT = 0.470
# Half-widths [m] 3 and 15 cm down at S1, S3, S5.
EVEN = {"S1": (0.062, 0.160), "S3": (0.080, 0.195), "S5": (0.095, 0.215)}


def _between(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2


def _five(three: dict[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    return {
        **three,
        "S2": _between(three["S1"], three["S3"]),
        "S4": _between(three["S3"], three["S5"]),
    }


@dataclass(frozen=True)
class KnownBack:
    """A back of which the truth is known everywhere [m]."""

    left: dict[str, tuple[float, float]]
    right: dict[str, tuple[float, float]]
    rock: float = 0.018
    lowest: float = 0.25

    @property
    def model(self) -> BackModel:
        depths = (0.0, 0.002, 0.005, 0.01, 0.02, 0.03, 0.05, 0.08, 0.1, 0.12, 0.15, 0.2, 0.25, 0.3)

        def half(widths: tuple[float, float]):
            return power_profile(half_width_3=widths[0], half_width_15=widths[1], depths=depths)

        left, right = _five(self.left), _five(self.right)
        stations = tuple(
            Station(name, DISTANCES[name], half(left[name]), half(right[name]))
            for name in sorted(DISTANCES)
        )
        x = np.linspace(-0.3, 1.0, 131)
        z = 4 * self.rock * ((x - self.lowest) / 0.4318) ** 2
        line = LineProfile(tuple(x.tolist()), tuple(z.tolist()))
        return BackModel(BackShape(stations=stations, left_line=line, right_line=line))

    def height(self, x: Array, y: Array) -> Array:
        """Heights (n, m) over x (n,) and signed y (m,)."""
        z = self.model.height(x, np.abs(y))
        return np.where(y[None, :] < 0, z[0], z[1])

    def half_width(self, station: str, side: str, depth: float) -> float:
        """The truth by hand: y = y3 (depth / 3 cm)^(1/p), p = ln 5 / ln(y15 / y3)."""
        y3, y15 = _five(self.left if side == "L" else self.right)[station]
        power = np.log(5) / np.log(y15 / y3)
        return float(y3 * (depth / 0.03) ** (1 / power)) if depth else 0.0


KNOWN = KnownBack(EVEN, EVEN)


@dataclass(frozen=True)
class MadeScan:
    """A scan with the marks where they truly are, in the scan's own axes and unit."""

    surface: Surface
    marks: dict[str, Array]

    def turned(self, *, degrees: tuple[float, float, float], shift: Array) -> "MadeScan":
        """Return the scan in another pose."""
        turn = rotation(degrees)
        surface = replace(self.surface, vertices=self.surface.vertices @ turn.T + shift)
        return MadeScan(surface, {code: turn @ p + shift for code, p in self.marks.items()})

    def scaled(self, factor: float) -> "MadeScan":
        surface = replace(self.surface, vertices=self.surface.vertices * factor)
        return MadeScan(surface, {code: p * factor for code, p in self.marks.items()})

    def with_holes(self, places: list[tuple[float, float, float]]) -> "MadeScan":
        """Take out the triangles around (x, y) within a radius [m]; before turning."""
        middle = self.surface.vertices[self.surface.faces].mean(axis=1)
        kept = np.ones(len(middle), bool)
        for x, y, radius in places:
            kept &= np.hypot(middle[:, 0] - x, middle[:, 1] - y) > radius
        return replace(self, surface=replace(self.surface, faces=self.surface.faces[kept]))

    def with_noise(self, sd: float, seed: int = 1) -> "MadeScan":
        chance = np.random.default_rng(seed)
        along = chance.normal(0, sd, len(self.surface.vertices))[:, None]
        vertices = self.surface.vertices + along * self.surface.normals
        return replace(self, surface=replace(self.surface, vertices=vertices))

    def with_body(self) -> "MadeScan":
        """Add what else gets into a scan: four legs, a neck, and the floor of the stable."""
        parts = [self.surface, *_legs(), _neck(), _floor()]
        return replace(self, surface=joined(parts))


def rotation(degrees: tuple[float, float, float]) -> Array:
    x, y, z = np.radians(degrees)
    about_x = [[1, 0, 0], [0, np.cos(x), -np.sin(x)], [0, np.sin(x), np.cos(x)]]
    about_y = [[np.cos(y), 0, np.sin(y)], [0, 1, 0], [-np.sin(y), 0, np.cos(y)]]
    about_z = [[np.cos(z), -np.sin(z), 0], [np.sin(z), np.cos(z), 0], [0, 0, 1]]
    return np.array(about_z) @ np.array(about_y) @ np.array(about_x)


def grid_faces(n: int, m: int) -> NDArray[np.int32]:
    """Triangles over n by m points in row order, seen from above when rows run toward +x."""
    corner = (np.arange(n - 1)[:, None] * m + np.arange(m - 1)).ravel()
    first = np.stack([corner, corner + m, corner + m + 1], axis=1)
    second = np.stack([corner, corner + m + 1, corner + 1], axis=1)
    return np.concatenate([first, second]).astype(np.int32)


def scan_of(back: KnownBack = KNOWN, *, step: float = 0.006, seed: int = 3) -> MadeScan:
    """Return the back from withers to croup as triangles about `step` wide, points scattered."""
    chance = np.random.default_rng(seed)
    x = np.arange(-0.14, 0.90, step)
    # Down the flank the points must lie closer across, as on a real scan.
    y = np.linspace(-0.30, 0.30, int(0.95 / step) | 1)
    at_x, at_y = np.meshgrid(x, y, indexing="ij")
    at_x = at_x + chance.uniform(-0.25, 0.25, at_x.shape) * step
    at_y = at_y + chance.uniform(-0.25, 0.25, at_y.shape) * (y[1] - y[0])
    z = _heights_at(back, at_x, at_y)
    vertices = np.stack([at_x, at_y, z], axis=-1).reshape(-1, 3)
    return MadeScan(Surface(vertices, grid_faces(len(x), len(y))), marks_on(back))


def _heights_at(back: KnownBack, x: Array, y: Array) -> Array:
    """Heights at scattered places: along x from a fine table, across by the power law itself."""
    fine_x = np.linspace(-0.2, 1.0, 601)
    fine_y = np.linspace(-0.32, 0.32, 641)
    table = back.height(fine_x, fine_y)
    i = (x - fine_x[0]) / (fine_x[1] - fine_x[0])
    j = (y - fine_y[0]) / (fine_y[1] - fine_y[0])
    i0, j0 = np.floor(i).astype(int), np.floor(j).astype(int)
    a, b = i - i0, j - j0
    return (
        table[i0, j0] * (1 - a) * (1 - b)
        + table[i0 + 1, j0] * a * (1 - b)
        + table[i0, j0 + 1] * (1 - a) * b
        + table[i0 + 1, j0 + 1] * a * b
    )


def marks_on(back: KnownBack) -> dict[str, Array]:
    places = {
        "AL": (-0.012, -0.09),
        "AR": (0.0, 0.09),
        "W": (-0.10, 0.0),
        "D": (back.lowest, 0.0),
        "RL": (SUPPORT + 0.008, -0.10),
        "RR": (SUPPORT, 0.10),
        "C": (0.86, 0.0),
    }
    return {
        code: np.array([x, y, back.height(np.array([x]), np.array([y]))[0, 0]])
        for code, (x, y) in places.items()
    }


def joined(parts: list[Surface]) -> Surface:
    starts = np.cumsum([0, *(len(part.vertices) for part in parts[:-1])])
    faces = [part.faces + start for part, start in zip(parts, starts, strict=True)]
    return Surface(
        np.concatenate([part.vertices for part in parts]), np.concatenate(faces).astype(np.int32)
    )


def _tube(foot: Array, top: Array, radius: float) -> Surface:
    along = np.linspace(0, 1, 40)[:, None, None]
    round_ = np.linspace(0, 2 * np.pi, 24)
    axis = (top - foot) / np.linalg.norm(top - foot)
    one = np.cross(axis, [0.0, 1.0, 0.0])
    one /= np.linalg.norm(one)
    other = np.cross(axis, one)
    ring = radius * (np.cos(round_)[:, None] * one + np.sin(round_)[:, None] * other)
    vertices = (foot + along * (top - foot) + ring[None]).reshape(-1, 3)
    return Surface(vertices, grid_faces(40, 24))


def _legs() -> list[Surface]:
    places = [(-0.05, -0.15), (-0.05, 0.15), (0.85, -0.15), (0.85, 0.15)]
    return [_tube(np.array([x, y, -1.45]), np.array([x, y, -0.5]), 0.06) for x, y in places]


def _neck() -> Surface:
    return _tube(np.array([-0.2, 0.0, 0.0]), np.array([-0.8, 0.1, 0.6]), 0.12)


def _floor() -> Surface:
    x, y = np.meshgrid(np.linspace(-1.5, 2, 30), np.linspace(-1.5, 1.5, 30), indexing="ij")
    vertices = np.stack([x, y, np.full_like(x, -1.45)], axis=-1).reshape(-1, 3)
    return Surface(vertices, grid_faces(30, 30))
