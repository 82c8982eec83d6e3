"""One evaluation, from a back, a tree and a load to fields, measures and findings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from .errors import LoadOutsideSupport, StabilityLost
from .findings import Finding, findings_of
from .geometry import Back, BackShape, BackSurface, Grid, build_surface
from .layers import Layers
from .loads import LOAD_CASES, LoadCase, Loads, forces_of
from .measures import (
    Field,
    Measure,
    balance_measures,
    field_of,
    gap_measures,
    layout_of,
    load_measures,
    row_gap,
    shape_measures,
    support_measures,
    whole_grid,
)
from .pose import OUTSIDE, PATIENCE, Placed, Settled, patch_under, settle
from .profiles import Array
from .sections import Section, sections_of, withers_clearance
from .trees import PanelTree, Tree, TwoBarTree
from .underside import underside

ENGINE_VERSION = "1"


@dataclass(frozen=True)
class Placement:
    """Where the tree lies: its front tip behind the rear edge of the shoulder blade [m]."""

    tip: float


@dataclass(frozen=True)
class Settings:
    """How to compute.

    Attributes
    ----------
    grid : Grid
        Cells over each half of a measured back.
    is_linear : bool
        Small rotations from the attitude given, as textbook cases ask for; a tree otherwise finds
        its attitude however far it has to turn.
    axis : tuple of float or None
        x and z of the axis the pose turns about, behind the front tip and above the bars' lowest
        point [m]; the middle of the bearing part, at height zero, if None.
    tolerance : float
        Force out of balance over the load.
    """

    grid: Grid = field(default_factory=Grid)
    is_linear: bool = False
    axis: tuple[float, float] | None = None
    tolerance: float = 1e-10


@dataclass(frozen=True, eq=False)
class FitInputs:
    """Everything an evaluation depends on.

    Attributes
    ----------
    back : BackShape or HeightGrid
    tree : TwoBarTree, PanelTree or UndersideGrid
    placement : Placement
    layers : Layers
    loads : Loads
    horse_mass : float or None
        [kg]; without it the load ratio is left out.
    cases : tuple of LoadCase
    settings : Settings
    """

    back: Back
    tree: Tree
    placement: Placement
    layers: Layers
    loads: Loads
    horse_mass: float | None = None
    cases: tuple[LoadCase, ...] = LOAD_CASES
    settings: Settings = field(default_factory=Settings)


@dataclass(frozen=True, eq=False)
class CaseResult:
    """One load case.

    Attributes
    ----------
    name, title : str
    pose : tuple of float
        Heave [m], pitch and roll [rad].
    pressure, gap : (2, n, m) arrays
        On the grid of the result; pressure 0 and gap nan where there is no tree; a negative gap is
        compression of the layers [Pa], [m].
    row_gap : (2, n) array
        Smallest gap across the bar along each side [m].
    residual : float
        Force out of balance over the load.
    iterations : int
    measures : tuple of Measure
    """

    name: str
    title: str
    pose: tuple[float, float, float]
    pressure: Array
    gap: Array
    row_gap: Array
    residual: float
    iterations: int
    measures: tuple[Measure, ...]

    def value(self, code: str, zone: str = "", side: str = "") -> float:
        """Return one measure's value; nan where it was not taken."""
        return _value(self.measures, code, zone, side)


@dataclass(frozen=True, eq=False)
class FitResult:
    """What came out.

    Attributes
    ----------
    engine_version : str
    x : (n,), y : (m,), z : (2, n, m) arrays
        Cell centres behind the blade, off the midline (outward), and heights of the back [m].
    cases : tuple of CaseResult
    sections : tuple of Section
        Back and tree, cut across, standing with rider (the first load case).
    measures : tuple of Measure
        What depends on no load.
    findings : tuple of Finding
    warnings : tuple of str
    passes : int
        Times the contact was solved about the attitude found.
    """

    engine_version: str
    x: Array
    y: Array
    z: Array
    cases: tuple[CaseResult, ...]
    sections: tuple[Section, ...]
    measures: tuple[Measure, ...]
    findings: tuple[Finding, ...]
    warnings: tuple[str, ...]
    passes: int

    def case(self, name: str) -> CaseResult:
        """Return a load case by name; KeyError where it was not computed."""
        found = {case.name: case for case in self.cases}
        return found[name]

    def value(self, code: str, zone: str = "", side: str = "") -> float:
        """Return one measure that depends on no load; nan where it was not taken."""
        return _value(self.measures, code, zone, side)


def _value(measures: tuple[Measure, ...], code: str, zone: str, side: str) -> float:
    for m in measures:
        if (m.code, m.zone, m.side) == (code, zone, side):
            return m.value
    return float("nan")


def evaluate_fit(inputs: FitInputs, *, surface: BackSurface | None = None) -> FitResult:
    """Place a tree on a back, load it, and say what came out.

    Parameters
    ----------
    inputs : FitInputs
    surface : BackSurface, optional
        The back's cells, if they were built before for another tree.

    Returns
    -------
    FitResult
        A load case without a balanced pose is left out with a warning, unless it is the first.

    Raises
    ------
    InvalidShape
        If a dimension is missing or impossible; `path` names it.
    LoadOutsideSupport, StabilityLost
        If the first load case has no balanced pose.
    NotConverged
        If the tree does not come to rest.
    """
    surface = surface or build_surface(inputs.back, grid=inputs.settings.grid)
    placed = _place(inputs, surface)
    forces = tuple(forces_of(inputs.loads, inputs.tree, case) for case in inputs.cases)
    settled = settle(
        placed,
        forces,
        inputs.loads.moments,
        inputs.layers.law(),
        linear=inputs.settings.is_linear,
        tolerance=inputs.settings.tolerance,
    )
    _raise_if_lost(settled, inputs.cases[0])
    kept = [k for k in range(len(inputs.cases)) if settled.status[k] == 0]
    layout = layout_of(placed)
    cases = tuple(
        _case_result(inputs, surface, placed, settled, k, field_of(placed, settled, k, layout))
        for k in kept
    )
    shape = (
        *shape_measures(placed, surface, inputs.back.last_rib),
        *_load_ratio(inputs),
    )
    by_case = {case.name: case.measures for case in cases} | {"": shape}
    return FitResult(
        engine_version=ENGINE_VERSION,
        x=surface.x,
        y=surface.y,
        z=surface.z,
        cases=cases,
        sections=sections_of(_stations(inputs, placed), placed, settled.pose[0], surface),
        measures=shape,
        findings=findings_of(by_case, is_bar_tree=isinstance(inputs.tree, TwoBarTree)),
        warnings=(*surface.warnings, *_warnings(inputs, surface, placed, settled)),
        passes=settled.passes,
    )


def evaluate_many(many: Iterable[FitInputs]) -> list[FitResult]:
    """Evaluate several pairings; backs that are the same object are built once."""
    surfaces: dict[tuple[int, Grid], BackSurface] = {}
    results = []
    for inputs in list(many):
        key = (id(inputs.back), inputs.settings.grid)
        if key not in surfaces:
            surfaces[key] = build_surface(inputs.back, grid=inputs.settings.grid)
        results.append(evaluate_fit(inputs, surface=surfaces[key]))
    return results


def _place(inputs: FitInputs, surface: BackSurface) -> Placed:
    face, tip = underside(inputs.tree), inputs.placement.tip
    patch = patch_under(surface, face, tip)
    x, z = inputs.settings.axis or (float(face.bearing.mean()), 0.0)
    bearing = face.bearing[patch.side]
    along = (patch.points[:, 0] - tip - bearing[:, 0]) / (bearing[:, 1] - bearing[:, 0])
    shims = inputs.layers.shims.thickness(along, patch.side)
    thickness = inputs.layers.pad_thickness + shims
    return Placed(face, patch, tip, np.array([tip + x, 0.0, z]), thickness)


def _raise_if_lost(settled: Settled, first: LoadCase) -> None:
    if settled.status[0] == OUTSIDE:
        raise LoadOutsideSupport(
            f"The load of case '{first.name}' acts outside the support: the tree tips over."
        )
    if settled.status[0] != 0:
        raise StabilityLost(
            f"In case '{first.name}' the tree does not hold against the height of the rider.",
            margin=float(settled.margin[0]),
        )


def _case_result(
    inputs: FitInputs,
    surface: BackSurface,
    placed: Placed,
    settled: Settled,
    k: int,
    cells: Field,
) -> CaseResult:
    measures = [
        *load_measures(cells),
        *support_measures(cells, inputs.back.last_rib),
        *gap_measures(cells),
        *balance_measures(placed, settled, k, cells),
    ]
    measures += _further(inputs, surface, placed, settled, k, measures)
    gaps = np.where(settled.cover[k] > 0, -settled.overlap[k], np.nan)
    rows = np.full(surface.z.shape[:2], np.nan)
    rows[:, placed.patch.rows] = [row_gap(cells, side) for side in range(2)]
    return CaseResult(
        name=inputs.cases[k].name,
        title=inputs.cases[k].title,
        pose=tuple(float(v) for v in settled.pose[k]),  # type: ignore[arg-type]
        pressure=whole_grid(cells.pressure.reshape(-1), placed.patch, surface, 0.0),
        gap=whole_grid(gaps, placed.patch, surface, np.nan),
        row_gap=rows,
        residual=float(settled.residual[k]),
        iterations=int(settled.iterations[k]),
        measures=tuple(measures),
    )


def _further(
    inputs: FitInputs,
    surface: BackSurface,
    placed: Placed,
    settled: Settled,
    k: int,
    measures: list[Measure],
) -> list[Measure]:
    """Measures made of others: bearing length over the bearing part, left share, withers."""
    taken = tuple(measures)
    out = [Measure("left_share", _value(taken, "share", "", "left"), "1")]
    for side, name in enumerate(("left", "right")):
        span = float(np.diff(placed.face.bearing[side])[0])
        length = _value(taken, "bearing_length", "", name)
        if np.isfinite(length):
            out.append(Measure("bearing_share", min(length / span, 1.0), "1", side=name))
    height = _arch_height(inputs.tree)
    if height is not None and k == 0:
        clearance = withers_clearance(placed, settled.pose[k], surface, height)
        if clearance is not None:
            out.append(Measure("withers_clearance", clearance, "m"))
    return out


def _arch_height(tree: Tree) -> float | None:
    return tree.gullet_height if isinstance(tree, TwoBarTree | PanelTree) else None


def _load_ratio(inputs: FitInputs) -> list[Measure]:
    if not inputs.horse_mass or inputs.loads.carried_mass <= 0:
        return []
    return [Measure("load_ratio", inputs.loads.carried_mass / inputs.horse_mass, "1")]


def _stations(inputs: FitInputs, placed: Placed) -> list[tuple[str, float]]:
    if isinstance(inputs.back, BackShape):
        return [(station.name, station.distance) for station in inputs.back.stations]
    front, rear = placed.tip + placed.face.bearing[0]
    return [(f"S{i + 1}", float(x)) for i, x in enumerate(np.linspace(front, rear, 5))]


def _warnings(
    inputs: FitInputs, surface: BackSurface, placed: Placed, settled: Settled
) -> list[str]:
    out = [
        f"Case '{case.name}' has no balanced pose and was left out."
        for case, status in zip(inputs.cases, settled.status, strict=True)
        if status != 0
    ]
    if settled.passes > PATIENCE:
        out.append(
            "The tree would not settle in one place and was taken at rest within a millimetre: "
            "trust these numbers less."
        )
    if float(np.max(placed.tip + placed.face.length)) > surface.x[-1]:
        out.append("The tree reaches past the mapped part of the back.")
    if isinstance(inputs.back, BackShape):
        last = inputs.back.stations[-1].distance
        end = float(np.max(placed.tip + placed.face.bearing[:, 1]))
        if end > last + 0.05:
            out.append(
                f"The tree bears {1000 * (end - last):.0f} mm behind the last section; the back is "
                "taken to go on there as it was."
            )
    return out
