"""Two measurings of a back laid over one another: where it rose, where it fell, by how much."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitting.adapters.backs import back_shape_of
from fitting.adapters.gathering import Gathering
from fitting.charts.back_change import ChangeMap, SectionPair
from fitting.engine import BackShape, EngineError, Grid, build_surface
from horses.change import error_across
from horses.measuring_error import MeasuringError
from horses.models import BackMeasurement

Array = NDArray[np.float64]
MM = 1000.0
TRACING_MM = 2.0  # of a tracing where the back is flat: pen, paper and hair (assumption)
GRID = Grid(along=48, across=18)


@dataclass(frozen=True)
class Shares:
    """How much of the compared half rose, fell or stayed within the error, 0 to 1."""

    rose: float
    fell: float
    mean_mm: float


@dataclass(frozen=True)
class BackChange:
    """The map of change and what it says of each half; none where a day has too little traced."""

    map: ChangeMap
    left: Shares
    right: Shares


def back_change(
    then: BackMeasurement, now: BackMeasurement, error: MeasuringError
) -> BackChange | None:
    """Return the change across the surface, spine on spine, blade edge on blade edge.

    Both backs are laid together by their landmarks: the rear edge of the blade and the bony
    midline at every distance behind it, never by muscle. What is left is the change beside the
    spine, across the surface, where both days were traced.
    """
    shapes = [_shape(measurement) for measurement in (then, now)]
    if shapes[0] is None or shapes[1] is None:
        return None
    try:
        surfaces = [build_surface(shape, grid=GRID) for shape in shapes if shape is not None]
    except EngineError:
        return None
    below = [surface.midline[None, :, None] - surface.z for surface in surfaces]  # type: ignore[index]
    upright = surfaces[0].normal[..., 2]
    change = (below[0] - below[1]) * upright * MM
    seen = _traced(shapes[0], *GRID.centres()) & _traced(shapes[1], *GRID.centres())
    slope = np.sqrt(1 / upright**2 - 1)
    allowed = np.vectorize(lambda s: error_across(s, error, TRACING_MM))(slope)
    change = np.where(seen, change, np.nan)
    x, y = GRID.centres()
    found = ChangeMap(x * MM, y * MM, change, np.abs(change) <= allowed)
    return BackChange(found, _shares(found, 0), _shares(found, 1))


def _shape(measurement: BackMeasurement) -> BackShape | None:
    account = Gathering()
    try:
        shape = back_shape_of(measurement, account)
    except EngineError:
        return None
    return None if account.missing else shape


def _traced(shape: BackShape, x: Array, y: Array) -> NDArray[np.bool_]:
    """Return where a back was traced: between its first and last section, as far out as they go."""
    at = [station.distance for station in shape.stations]
    inside = (x >= at[0]) & (x <= at[-1])
    reach = [
        np.interp(x, at, [getattr(s, side).half_widths[-1] for s in shape.stations])
        for side in ("left", "right")
    ]
    return np.stack([inside[:, None] & (y[None, :] <= r[:, None]) for r in reach])


def _shares(found: ChangeMap, side: int) -> Shares:
    change, within = found.change_mm[side], found.within_error[side]
    seen = np.isfinite(change)
    if not seen.any():
        return Shares(0.0, 0.0, float("nan"))
    beyond = seen & ~within
    return Shares(
        rose=float(np.sum(beyond & (change > 0)) / np.sum(seen)),
        fell=float(np.sum(beyond & (change < 0)) / np.sum(seen)),
        mean_mm=float(np.mean(change[seen])),
    )


def section_pairs(
    then: BackMeasurement, now: BackMeasurement, stations: dict[str, str]
) -> list[SectionPair]:
    """Return the sections that both days have, then and now, each as traced (mean of repeats)."""
    pairs = []
    for station, words in stations.items():
        halves = [_half(measurement, station, side) for side in "LR" for measurement in (then, now)]
        if all(half is not None for half in halves):
            left_then, left_now, right_then, right_now = halves
            pairs.append(SectionPair(words, (left_then, right_then), (left_now, right_now)))  # type: ignore[arg-type]
    return pairs


def _half(measurement: BackMeasurement, station: str, side: str) -> Array | None:
    """Return [half-width, depth] rows of one half section [mm], None where it was not traced."""
    traces = [
        np.asarray(section.points, float)
        for section in measurement.sections.all()
        if (section.station, section.side) == (station, side) and len(section.points) > 2
    ]
    if not traces:
        return None
    depths = traces[0][traces[0][:, 0] <= min(trace[-1, 0] for trace in traces) + 1e-9, 0]
    widths = np.mean([np.interp(depths, *trace.T) for trace in traces], axis=0)
    return np.column_stack([widths, depths])
