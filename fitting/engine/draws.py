"""What is not known exactly in an evaluation's inputs, as sources of error to draw from.

Every source is one number in standard deviations: drawn from the standard normal distribution, all
independent of one another. An error along a section or a line is smooth, because the curve is laid
on as a whole: it is a sum of a few smooth shapes, each a source of its own, whose correlation falls
off with distance as a Gaussian. Method: propagation of distributions by a Monte Carlo method, JCGM
101:2008 (GUM Supplement 1) [memory].
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .geometry import BackShape, HeightGrid
from .inputs import FitInputs, Placement
from .layers import Layer
from .measuring import Errors
from .profiles import SIDES, STRAIGHT_EDGE, Array, HalfProfile, LineProfile
from .storage import to_dict
from .trees import FramelessTree, PanelTree, Tree, UndersideGrid

KEPT = 0.95  # of the variance of a smooth error is left in its shapes, then scaled back to all
KEPT_SCAN = 0.97
LEAST_STEP = 5e-4  # [m] by which half-widths still grow with depth, however they are drawn


Change = Callable[[FitInputs, float], FitInputs]


@dataclass(frozen=True, eq=False)
class Source:
    """One thing not known exactly.

    Attributes
    ----------
    group : str
        One of `bands.GROUPS`.
    item : str
        What it is: "S1 left", "slope_front left", "tissue".
    change : callable
        Inputs and an amount in standard deviations to the inputs with that error.
    """

    group: str
    item: str
    change: Change


def sources_of(inputs: FitInputs) -> tuple[Source, ...]:
    """Return everything that is not known exactly in some inputs."""
    back, errors = inputs.back, inputs.errors
    on_back = _of_scan(back, errors) if isinstance(back, HeightGrid) else _of_back(back, errors)
    found = [*on_back, *_of_tree(inputs.tree, errors), *_of_layers(inputs, errors)]
    found.append(Source("placement", "tip", lambda given, n: _tip_moved(given, n * errors.tip)))
    return (*found, *_of_load(inputs, errors))


def drawn_inputs(inputs: FitInputs, sources: tuple[Source, ...], amounts: Array) -> FitInputs:
    """Return the inputs with errors of the amounts (K,) in standard deviations."""
    for source, amount in zip(sources, amounts, strict=True):
        inputs = source.change(inputs, float(amount))
    return inputs


def seed_of(inputs: FitInputs) -> int:
    """Return a seed below 2^32 that the inputs and their errors fix, whatever machine asks."""
    digest = hashlib.sha256(json.dumps(to_dict(inputs), sort_keys=True).encode()).digest()
    return int.from_bytes(digest[:4], "big")


def drawn_amounts(seed: int, draws: int, sources: int) -> Array:
    """Return amounts (draws, sources) from the standard normal distribution.

    A larger number of draws begins with the same ones.
    """
    return np.random.default_rng(seed).standard_normal((draws, sources))


def smooth_shapes(at: Array, length: float, *, kept: float = KEPT) -> Array:
    """Return shapes (k, n) of a smooth error at places (n,) [m]; their squares add up to 1.

    Notes
    -----
    Eigenvectors of the correlation exp(-(d / length)^2 / 2) times the roots of their eigenvalues
    (Karhunen-Loeve expansion), the largest that hold the share `kept` of the variance.
    """
    distance = np.subtract.outer(at, at) / length
    values, vectors = np.linalg.eigh(np.exp(-0.5 * distance * distance))
    values, vectors = values[::-1], vectors[:, ::-1]
    count = int(np.searchsorted(np.cumsum(values), kept * len(at))) + 1
    shapes = (vectors[:, :count] * np.sqrt(values[:count])).T
    return np.asarray(shapes / np.sqrt(np.sum(shapes**2, axis=0)), float)


def _of_back(back: BackShape, errors: Errors) -> Iterator[Source]:
    for i, station in enumerate(back.stations):
        for j, side in enumerate(SIDES):
            known = errors.half_width_at
            sigma = known[i][j] if i < len(known) else errors.half_width
            depths = np.asarray(getattr(station, side).depths, float)
            fixed = depths <= 0.0  # the midline itself is where the curve was marked
            shapes = np.zeros((0, len(depths)))
            if not fixed.all():
                free = smooth_shapes(depths[~fixed], errors.depth_length)
                shapes = np.zeros((len(free), len(depths)))
                shapes[:, ~fixed] = free
            for shape in shapes:
                yield Source("sections", f"{station.name} {side}", _section(i, side, sigma * shape))
    for name in _lines_used(back):
        at = np.asarray(getattr(back, name).distances, float)
        for shape in smooth_shapes(at, errors.along_length):
            yield Source("lines", name, _line(name, errors.line * shape))


def _lines_used(back: BackShape) -> list[str]:
    own = [name for name in ("left_line", "right_line") if getattr(back, name) is not None]
    return own if len(own) == 2 or back.midline is None else [*own, "midline"]


def _section(index: int, side: str, error: Array) -> Change:
    def change(inputs: FitInputs, amount: float) -> FitInputs:
        back = inputs.back
        assert isinstance(back, BackShape)
        station = back.stations[index]
        half = _widened(getattr(station, side), amount * error)
        stations = list(back.stations)
        stations[index] = replace(station, **{side: half})  # type: ignore[arg-type]
        return replace(inputs, back=replace(back, stations=tuple(stations)))

    return change


def _widened(half: HalfProfile, error: Array) -> HalfProfile:
    """Half-widths with an error [m], kept growing with depth."""
    step = LEAST_STEP * np.arange(len(error))
    widths = np.maximum.accumulate(np.asarray(half.half_widths) + error - step) + step
    widths = np.maximum(widths, step)
    return HalfProfile(tuple(float(w) for w in widths), half.depths)


def _line(name: str, error: Array) -> Change:
    def change(inputs: FitInputs, amount: float) -> FitInputs:
        back = inputs.back
        assert isinstance(back, BackShape)
        line: LineProfile = getattr(back, name)
        heights = tuple(float(z) for z in np.asarray(line.heights) + amount * error)
        moved: dict[str, Any] = {name: replace(line, heights=heights)}
        return replace(inputs, back=replace(back, **moved))

    return change


def _of_scan(back: HeightGrid, errors: Errors) -> Iterator[Source]:
    along = smooth_shapes(np.asarray(back.x, float), errors.along_length, kept=KEPT_SCAN)
    across = smooth_shapes(np.asarray(back.y, float), errors.depth_length, kept=KEPT_SCAN)
    for side, name in enumerate(SIDES):
        for one in along:
            for other in across:
                error = np.zeros(np.shape(back.heights))
                error[side] = errors.scan * np.outer(one, other)
                yield Source("sections", f"scan {name}", _scan(error))


def _scan(error: Array) -> Change:
    def change(inputs: FitInputs, amount: float) -> FitInputs:
        back = inputs.back
        assert isinstance(back, HeightGrid)
        return replace(inputs, back=replace(back, heights=back.heights + amount * error))

    return change


def _of_tree(tree: Tree, errors: Errors) -> Iterator[Source]:
    sizes = {"width": errors.width, "length": errors.length, "curve": errors.curve}
    sizes |= {"slope": errors.slope, "bending": errors.bending}
    if isinstance(tree, UndersideGrid):
        yield from _of_grid(tree, errors)
        return
    own = ("spread_hand_hole", "spread_front", "spread_rear")
    if isinstance(tree, PanelTree):
        own = ("channel_front", "channel_middle", "channel_rear")
    if isinstance(tree, FramelessTree):
        own = ("width", "length", "channel")
    for kind, name in _SIDE_FIELDS:
        sides_of = [s for s in SIDES if hasattr(tree, s)]
        known = [s for s in sides_of if getattr(getattr(tree, s), name, None) is not None]
        if not known:
            continue
        for sides in [(s,) for s in known] if kind == "slope" else [tuple(known)]:
            item = f"{name} {sides[0]}" if len(sides) == 1 else name
            yield Source("tree", item, _bars(name, sides, sizes[kind]))
    for name in own:
        if getattr(tree, name, None) is not None:
            yield Source("tree", name, _whole_tree(name, errors.width))


# Read once for both sides, but for the slopes, which are read on each.
_SIDE_FIELDS = (
    *(("slope", name) for name in ("slope_front", "slope_rear")),
    *(("width", name) for name in ("width_front", "width_centre", "width_middle", "width_rear")),
    *(("curve", name) for name in ("rock", "crown", "flare_front", "flare_rear")),
    *(("length", name) for name in ("length", "bearing_length")),
    ("bending", "bending_stiffness"),
)


def _bars(name: str, sides: tuple[str, ...], sigma: float) -> Change:
    def change(inputs: FitInputs, amount: float) -> FitInputs:
        tree = inputs.tree
        new: dict[str, Any] = {}
        for side in sides:
            bar = getattr(tree, side)
            value = getattr(bar, name) + amount * sigma
            if name == "bending_stiffness":
                value = getattr(bar, name) * float(np.exp(amount * sigma))
            if name == "bearing_length":  # the bar cannot bear past its tips
                value = min(value, bar.length)
            if name == "length" and hasattr(bar, "bearing_length"):
                value = max(value, bar.bearing_length)
            new[side] = replace(bar, **{name: value})
        return replace(inputs, tree=replace(tree, **new))

    return change


def _whole_tree(name: str, sigma: float) -> Change:
    def change(inputs: FitInputs, amount: float) -> FitInputs:
        tree = inputs.tree
        value = max(getattr(tree, name) + amount * sigma, 0.0)
        return replace(inputs, tree=replace(tree, **{name: value}))

    return change


def _of_grid(tree: UndersideGrid, errors: Errors) -> Iterator[Source]:
    """A scanned underside may be held askew on each side, and bent along."""
    y, x = np.asarray(tree.y, float), np.asarray(tree.x, float)
    for side, name in enumerate(SIDES):
        tilt = np.zeros(np.shape(tree.heights))
        tilt[side] = -np.tan(errors.slope) * (y - y.mean())
        yield Source("tree", f"slope {name}", _grid(tilt))
    bend = 4 * ((x - x.mean()) / STRAIGHT_EDGE) ** 2
    bow = np.broadcast_to(errors.curve * bend[:, None], np.shape(tree.heights))
    yield Source("tree", "rock", _grid(np.asarray(bow, float)))


def _grid(error: Array) -> Change:
    def change(inputs: FitInputs, amount: float) -> FitInputs:
        tree = inputs.tree
        assert isinstance(tree, UndersideGrid)
        return replace(inputs, tree=replace(tree, heights=tree.heights + amount * error))

    return change


def _tip_moved(inputs: FitInputs, by: float) -> FitInputs:
    return replace(inputs, placement=Placement(tip=inputs.placement.tip + by))


def _of_layers(inputs: FitInputs, errors: Errors) -> Iterator[Source]:
    for name in ("tissue", "pad", "flock"):
        if getattr(inputs.layers, name) is not None:
            yield Source("layers", name, _layer(name, getattr(errors, name)))


def _layer(name: str, sigma: float) -> Change:
    def change(inputs: FitInputs, amount: float) -> FitInputs:
        return stiffened_in(inputs, name, float(np.exp(amount * sigma)))

    return change


def stiffened_in(inputs: FitInputs, name: str, factor: float) -> FitInputs:
    """Return the inputs with one of their layers, "tissue", "pad" or "flock", `stiffened`."""
    layer: dict[str, Any] = {name: stiffened(getattr(inputs.layers, name), factor)}
    return replace(inputs, layers=replace(inputs.layers, **layer))


def stiffened(layer: Layer, factor: float) -> Layer:
    """Return a layer that answers every compression with `factor` times the pressure."""
    scale = None if layer.pressure_scale is None else factor * layer.pressure_scale
    return Layer(factor * layer.modulus_per_area, scale)


def _of_load(inputs: FitInputs, errors: Errors) -> Iterator[Source]:
    loads = inputs.loads
    if loads.rider_mass > 0:
        yield _load("rider", "rider_mass", loads.rider_mass * errors.rider)
        yield _load("height", "rider_height", errors.height)
        yield _load("stirrups", "stirrup_share", errors.stirrups)
        yield Source("load", "seat", lambda given, n: _sat(given, n * errors.seat, 0.0))
        yield Source("load", "aside", lambda given, n: _sat(given, 0.0, n * errors.aside))
    if loads.girth_tension > 0:
        yield _load("girth", "girth_tension", loads.girth_tension * errors.girth)
    if loads.rigging is not None:
        yield _load("rigging", "rigging", errors.rigging)
    if any(case.rope for case in inputs.cases):
        yield _load("rope", "rope_pull", loads.rope_pull * errors.rope)
    if inputs.horse_mass:
        yield Source("load", "horse", lambda given, n: _heavier(given, n * errors.horse))


def _load(item: str, name: str, sigma: float) -> Source:
    def change(inputs: FitInputs, amount: float) -> FitInputs:
        value = getattr(inputs.loads, name) + amount * sigma
        return replace(inputs, loads=replace(inputs.loads, **{name: value}))

    return Source("load", item, change)


def _heavier(inputs: FitInputs, share: float) -> FitInputs:
    return replace(inputs, horse_mass=(inputs.horse_mass or 0.0) * (1 + share))


def _sat(inputs: FitInputs, back: float, aside: float) -> FitInputs:
    """Inputs with the rider further back and to the right in every load case [m]."""
    cases = tuple(
        replace(case, offset_x=case.offset_x + back, offset_y=case.offset_y + aside)
        for case in inputs.cases
    )
    return replace(inputs, cases=cases)
