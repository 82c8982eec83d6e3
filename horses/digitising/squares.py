"""Squared paper found by itself: its crossings give scale and perspective at once.

The two directions come from the strongest peaks of a windowed Fourier transform; from there the
crossings are followed outward, one ring after the other, and a homography is fitted to them all.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from horses.digitising.errors import TracingError
from horses.digitising.rectify import Array, Paper, homography, mapped

TILE = 320  # pixels of the photo in which the first squares are looked for
PERIODS_PX = (7.0, 110.0)  # a square's side in the photo
LEAST_CROSSINGS = 60
MOST_CROSSINGS = 6000
REACH = 0.32  # of a square: how far a crossing may lie from where it is expected
CLEAR = 4.0  # times the usual unevenness: how far a line must stand out to be one
OUTSIDE = -9.0
NOT_FOUND = (
    "No squares were found on this photo. Take it from nearer and square on, or mark four corners "
    "or two marks instead."
)
NEIGHBOURS = ((1, 0), (-1, 0), (0, 1), (0, -1))
# Assumption: paper is printed to about 0.3 %, and stretches with damp.
PRINT_ERROR = 0.003

Node = tuple[int, int]


@dataclass(frozen=True)
class Squares:
    """The paper, the crossings it was fitted to and how far they lie off (rms, mm)."""

    paper: Paper
    crossings: Array
    residual_mm: float


def find_squares(dark: Array, square_mm: float) -> Squares:
    """Return the paper from the squares on it; `dark` is what `trace.darkness_of` returns."""
    lattice, places, kept = _best_grown(_thin_lines(dark))
    matrix = _upright(homography(places[kept], lattice[kept] * square_mm), places[kept])
    off = mapped(homography(places[kept], lattice[kept] * square_mm), places[kept])
    residual = float(np.sqrt(((off - lattice[kept] * square_mm) ** 2).sum(axis=1).mean()))
    found = mapped(matrix, places[kept])
    low, high = found.min(axis=0) - square_mm, found.max(axis=0) + square_mm
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    return Squares(Paper(matrix, PRINT_ERROR, box), places[kept], residual)


def _thin_lines(dark: Array) -> Array:
    """Return thin dark lines only, evened out: shadows gone, and the pen no stronger than print."""
    fine = ndimage.gaussian_filter(dark, 0.8) - ndimage.gaussian_filter(dark, 5.0)
    usual = np.sqrt(ndimage.gaussian_filter(np.minimum(fine**2, 0.01), 30.0))
    return np.asarray(np.clip(fine / np.maximum(usual, 0.004), -0.5, 2.5))


def _best_grown(thin: Array) -> tuple[Array, Array, npt.NDArray[np.bool_]]:
    """Return the lattice of the start from which most crossings agree: numbers, places, which."""
    best: tuple[Array, Array, npt.NDArray[np.bool_]] | None = None
    for centre in _starts(thin.shape):
        seed = _seed(thin, centre)
        grown = _grown(thin, *seed) if seed else {}
        if len(grown) < LEAST_CROSSINGS:
            continue
        lattice, places = np.array(list(grown)), np.array(list(grown.values()))
        kept = _agreeing(places, lattice)
        if best is None or kept.sum() > best[2].sum():
            best = lattice, places, kept
        if best[2].sum() > 0.8 * len(grown) and best[2].sum() > 4 * LEAST_CROSSINGS:
            break
    if best is None or best[2].sum() < LEAST_CROSSINGS:
        raise TracingError(NOT_FOUND, "squares")
    return best


def _starts(shape: tuple[int, ...]) -> list[Array]:
    height, width = shape
    shares = [(0.5, 0.5), (0.5, 0.3), (0.5, 0.7), (0.3, 0.5), (0.7, 0.5), (0.3, 0.3), (0.7, 0.7)]
    return [np.array([width * x, height * y]) for y, x in shares]


def _seed(thin: Array, centre: Array) -> tuple[Array, Array, Array] | None:
    """Return a first crossing and the two sides of a square there, or None."""
    half = TILE // 2
    x, y = (int(np.clip(c, half, n - half)) for c, n in zip(centre, thin.shape[::-1], strict=True))
    if min(thin.shape) < TILE:
        return None
    tile = thin[y - half : y + half, x - half : x + half]
    window = np.outer(np.hanning(TILE), np.hanning(TILE))
    spectrum = np.fft.fft2((tile - np.average(tile, weights=window)) * window, s=(2 * TILE,) * 2)
    waves = _two_waves(np.abs(spectrum))
    if waves is None:
        return None
    sides = np.linalg.inv(np.array(waves)).T  # rows: u side, v side
    start = np.array([x, y], dtype=float)
    first, is_found = _crossing(thin, start[None], sides[0][None], sides[1][None], reach=0.5)
    return (first[0], sides[0], sides[1]) if is_found[0] else None


def _two_waves(strength: Array) -> tuple[Array, Array] | None:
    """Return the two waves (cycles per pixel) of a square lattice, one nearest to horizontal."""
    count = len(strength)
    frequency = np.fft.fftfreq(count)
    fy, fx = np.meshgrid(frequency, frequency, indexing="ij")
    size = np.hypot(fx, fy)
    usable = (size > 1 / PERIODS_PX[1]) & (size < 1 / PERIODS_PX[0]) & (fx >= 0)
    found: list[tuple[float, Array]] = []
    masked = np.where(usable, strength, 0.0)
    for _ in range(12):
        row, column = np.unravel_index(int(masked.argmax()), masked.shape)
        wave = np.array([fx[row, column], fy[row, column]])
        found.append((float(masked[row, column]), wave))
        masked[np.hypot(fx - wave[0], fy - wave[1]) < 5 / count] = 0.0
    strongest = found[0][0]
    near = [wave for peak, wave in found if peak > 0.3 * strongest]
    return _pair(near)


def _pair(waves: list[Array]) -> tuple[Array, Array] | None:
    """Return the longest two waves about square to each other and about as long."""
    best: tuple[float, Array, Array] | None = None
    for n, one in enumerate(waves):
        for other in waves[n + 1 :]:
            sizes = np.hypot(*one), np.hypot(*other)
            cosine = abs(one @ other) / (sizes[0] * sizes[1])
            ratio = max(sizes) / min(sizes)
            if cosine > 0.5 or ratio > 1.7:
                continue
            if best is None or sum(sizes) < best[0]:
                best = (sum(sizes), one, other)
    if best is None:
        return None
    across, down = best[1], best[2]
    if abs(across[0]) < abs(down[0]):
        across, down = down, across
    return across * np.sign(across[0]), down * np.sign(down[1] or 1.0)


def _crossing(
    thin: Array, at: Array, u: Array, v: Array, reach: float = REACH
) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Return the crossings near the expected places (n, 2), and which of them were found.

    A printed line shows where the mean darkness along it peaks as it is moved sideways.
    """
    shift_v, clear_v = _sideways(thin, at, u, v, reach)
    moved = at + shift_v[:, None] * v
    shift_u, clear_u = _sideways(thin, moved, v, u, reach)
    return moved + shift_u[:, None] * u, clear_u & clear_v


def _sideways(
    thin: Array, at: Array, along: Array, across: Array, reach: float
) -> tuple[Array, npt.NDArray[np.bool_]]:
    run, offsets = np.linspace(-0.45, 0.45, 19), np.linspace(-reach, reach, 33)
    points = (
        at[:, None, None, :]
        + run[None, None, :, None] * along[:, None, None, :]
        + offsets[None, :, None, None] * across[:, None, None, :]
    )
    values = ndimage.map_coordinates(
        thin, [points[..., 1], points[..., 0]], order=1, mode="constant", cval=OUTSIDE
    )
    is_inside = values.min(axis=(1, 2)) > OUTSIDE / 2
    mean = np.median(values, axis=2)
    rise = mean - np.median(mean, axis=1, keepdims=True)
    top = rise.max(axis=1, keepdims=True)
    weight = np.clip(rise - 0.5 * top, 0.0, None)
    shift = (weight @ offsets) / np.maximum(weight.sum(axis=1), 1e-12)
    usual = np.median(np.abs(rise), axis=1)
    is_clear = (top[:, 0] > CLEAR * usual) & (top[:, 0] > 0.4) & is_inside
    is_clear &= np.abs(shift) < 0.9 * reach
    return shift, is_clear


def _grown(thin: Array, start: Array, u: Array, v: Array) -> dict[Node, Array]:
    """Return the crossings reached from a first one, by their place in the lattice."""
    nodes: dict[Node, Array] = {(0, 0): start}
    sides: dict[Node, tuple[Array, Array]] = {(0, 0): (u, v)}
    ring: list[Node] = [(0, 0)]
    tried: set[Node] = {(0, 0)}
    while ring and len(nodes) < MOST_CROSSINGS:
        wanted = _next_ring(ring, tried)
        if not wanted:
            break
        names = list(wanted)
        own = [sides[wanted[name]] for name in names]
        us, vs = np.array([s[0] for s in own]), np.array([s[1] for s in own])
        steps = np.array([np.subtract(name, wanted[name]) for name in names])
        expected = np.array([nodes[wanted[name]] for name in names])
        expected = expected + steps[:, :1] * us + steps[:, 1:] * vs
        places, found = _crossing(thin, expected, us, vs)
        ring = []
        for n, name in enumerate(names):
            if found[n]:
                nodes[name] = places[n]
                sides[name] = _own_sides(nodes, sides, name, wanted[name])
                ring.append(name)
    return nodes


def _next_ring(ring: list[Node], tried: set[Node]) -> dict[Node, Node]:
    """Return the untried neighbours of a ring, each with the node it is reached from."""
    wanted: dict[Node, Node] = {}
    for node in ring:
        for step in NEIGHBOURS:
            name = (node[0] + step[0], node[1] + step[1])
            if name not in tried:
                tried.add(name)
                wanted[name] = node
    return wanted


def _own_sides(
    nodes: dict[Node, Array], sides: dict[Node, tuple[Array, Array]], name: Node, source: Node
) -> tuple[Array, Array]:
    """Return a square's sides at a node: its neighbour's, led on by what was just found."""
    u, v = sides[source]
    step = nodes[name] - nodes[source]
    if name[0] != source[0]:
        return 0.5 * u + 0.5 * step * (name[0] - source[0]), v
    return u, 0.5 * v + 0.5 * step * (name[1] - source[1])


def _agreeing(places: Array, lattice: Array) -> npt.NDArray[np.bool_]:
    """Return which crossings one homography explains; none where it explains too few."""
    kept = np.ones(len(places), dtype=bool)
    for _ in range(8):
        off = np.hypot(*(mapped(homography(places[kept], lattice[kept]), places) - lattice).T)
        kept = off < max(0.04, 2.5 * float(np.median(off[kept])))
        if kept.sum() < LEAST_CROSSINGS:
            break
    is_lattice = np.ptp(lattice[kept], axis=0).min() >= 4 if kept.any() else False
    is_tight = kept.any() and float(np.median(off[kept])) < 0.06
    return kept if is_lattice and is_tight else np.zeros(len(places), dtype=bool)


def _upright(matrix: Array, places: Array) -> Array:
    """Return the homography with the paper's origin at its upper left, for readable numbers."""
    low = mapped(matrix, places).min(axis=0)
    return np.array([[1, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1]]) @ matrix
