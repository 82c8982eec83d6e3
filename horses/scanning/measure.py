"""The whole way from a marked scan to sections and lines, in one call."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from horses.scanning import derive
from horses.scanning.align import BY_SPINE, Alignment, align
from horses.scanning.landmarks import Marks
from horses.scanning.resample import OUTER, BackGrid, Hole, covered, holes, resample
from horses.scanning.surface import Array, CannotUseScan, Surface

SUPPORT_LIMITS = (0.254, 0.712)  # [m] blade to last rib, from mini to draught; from memory
LINE_STEP = 0.04  # [m] between the heights of a line
AROUND = (0.25, 0.55)  # [m] ahead of the blade and behind the last rib: what is kept of the scan
BELOW = 0.45  # [m]


@dataclass(frozen=True)
class Wanted:
    """Where to read: stations behind the blade [m], depths [m], and the bar line [m].

    The last station lies `ahead_of_rib` before the last rib, as each horse has its own.
    """

    stations: Mapping[str, float]
    last_station: str
    ahead_of_rib: float
    depths: Sequence[float]
    bar_line: float


@dataclass(frozen=True, eq=False)
class ScannedBack:
    """What a scan says of a back [m]; left and right apart, holes told."""

    alignment: Alignment
    surface: Surface
    grid: BackGrid
    support: float
    lowest: float
    sections: tuple[derive.HalfSection, ...]
    lines: tuple[derive.Line, ...]
    holes: tuple[Hole, ...]
    covered: tuple[float, float]


def measure(
    surface: Surface,
    marks: Marks,
    *,
    metres_per_unit: float,
    wanted: Wanted,
    croup_over_withers: float | None = None,
    midline: str = BY_SPINE,
) -> ScannedBack:
    """Return sections and lines of a scan whose marks are in the file's own unit.

    Raises
    ------
    CannotUseScan
        With words for the person: marks that contradict each other, too little of the back.
    """
    surface = replace(surface, vertices=surface.vertices * metres_per_unit)
    marks = {code: np.asarray(place, float) * metres_per_unit for code, place in marks.items()}
    lie = align(surface, marks, croup_over_withers=croup_over_withers, midline=midline)
    placed = {code: lie.place(place) for code, place in marks.items()}
    support = _support(placed)
    back = _cropped(replace(surface, vertices=lie.place(surface.vertices)), support)
    grid = resample(back, support=support)
    return ScannedBack(
        alignment=lie,
        surface=back,
        grid=grid,
        support=support,
        lowest=float(placed["D"][0]) if "D" in placed else derive.lowest(grid, support=support),
        sections=_sections(grid, wanted, support),
        lines=_lines(grid, wanted, support),
        holes=holes(grid, support=support),
        covered=covered(grid, support=support),
    )


def _support(placed: Mapping[str, Array]) -> float:
    """Return the level distance from the rearmost blade to the nearer last rib."""
    support = float(min(placed["RL"][0], placed["RR"][0]))
    low, high = SUPPORT_LIMITS
    if not low <= support <= high:
        raise CannotUseScan(
            f"From blade to last rib this scan shows {support * 100:.0f} cm; backs have "
            f"{low * 100:.0f} to {high * 100:.0f} cm. Check the unit and the marks A and R."
        )
    return support


def _cropped(surface: Surface, support: float) -> Surface:
    """Leave out legs, neck, floor and whoever stood beside."""
    x, y, z = surface.vertices.T
    kept = (x > -AROUND[0]) & (x < support + AROUND[1])
    return surface.only(kept & (np.abs(y) < OUTER + 0.05) & (z > -BELOW) & (z < BELOW))


def _sections(grid: BackGrid, wanted: Wanted, support: float) -> tuple[derive.HalfSection, ...]:
    end = support - wanted.ahead_of_rib
    # A short back ends before the fixed stations do: those behind its own end say nothing.
    stations = {name: at for name, at in wanted.stations.items() if at < end}
    stations[wanted.last_station] = end
    return tuple(
        half
        for name, at in stations.items()
        for half in derive.section(grid, station=name, distance=at, depths=wanted.depths)
    )


def _lines(grid: BackGrid, wanted: Wanted, support: float) -> tuple[derive.Line, ...]:
    places = np.linspace(0.0, support, round(support / LINE_STEP) + 1)
    at = [round(float(place), 4) for place in places]
    bar = wanted.bar_line
    kinds = (("midline", 0.0, "M"), ("left_bar", bar, "L"), ("right_bar", bar, "R"))
    return tuple(
        derive.line(grid, name=name, off_midline=off, places=at, side=side)
        for name, off, side in kinds
    )
