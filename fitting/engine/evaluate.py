"""One evaluation, from a back, a tree and a load to fields, measures and findings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from .errors import LoadOutsideSupport, NotConverged, StabilityLost
from .findings import findings_of
from .flexible import as_bent, flex_measures
from .geometry import BackShape, BackSurface, Grid, build_surface
from .inputs import FitInputs, Solved
from .loads import LoadCase, forces_of
from .measures import Measure, shape_measures
from .motion import moved
from .passes import PATIENCE
from .pose import OUTSIDE, RESTLESS, Placed, Settled, patch_under, settle
from .readings import case_results
from .results import FitResult
from .sections import sections_of
from .trees import TwoBarTree
from .underside import Underside, underside

ENGINE_VERSION = "2"
ROUGH = 5e-4  # [m] and [rad] by which a tree may still move without a word about it


def evaluate_fit(
    inputs: FitInputs, *, surface: BackSurface | None = None, near: FitResult | None = None
) -> FitResult:
    """Place a tree on a back, load it, and say what came out.

    Parameters
    ----------
    inputs : FitInputs
    surface : BackSurface, optional
        The back's cells, if they were built before for another tree.
    near : FitResult, optional
        Of nearly the same inputs: its poses are where the search begins.

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
    solved = solve_cases(inputs, surface=surface, near=near)
    first = solved[0]
    cases = case_results(inputs, solved)
    shape = (
        *shape_measures(first.placed, surface, inputs.back.last_rib),
        *flex_measures(inputs.tree),
        *_load_ratio(inputs),
    )
    by_case = {case.name: case.measures for case in cases} | {"": shape}
    return FitResult(
        engine_version=ENGINE_VERSION,
        x=surface.x,
        y=surface.y,
        z=surface.z,
        cases=cases,
        sections=sections_of(
            _stations(inputs, first.placed),
            as_bent(first.placed, first.settled, first.index),
            first.pose,
            surface,
        ),
        measures=shape,
        findings=findings_of(
            by_case, is_bar_tree=isinstance(inputs.tree, TwoBarTree), cases=inputs.cases
        ),
        warnings=(*surface.warnings, *_warnings(inputs, surface, solved)),
        passes=max(one.settled.passes for one in solved),
    )


def solve_cases(
    inputs: FitInputs, *, surface: BackSurface | None = None, near: FitResult | None = None
) -> tuple[Solved, ...]:
    """Let the tree settle in every load case; those on the same shape of back settle together.

    `surface` and `near` are as in `evaluate_fit`.

    Returns
    -------
    tuple of Solved
        In the order of `inputs.cases`, without those that have no balanced pose.

    Raises
    ------
    InvalidShape, LoadOutsideSupport, StabilityLost, NotConverged
        As `evaluate_fit`: for the first load case only; others are left out.
    """
    surface = surface or build_surface(inputs.back, grid=inputs.settings.grid)
    face = underside(inputs.tree)
    middle = inputs.placement.tip + float(face.bearing.mean())
    poses = {case.name: case.pose for case in near.cases} if near is not None else {}
    found: dict[LoadCase, Solved] = {}
    for change in dict.fromkeys(case.back for case in inputs.cases):
        back = moved(surface, change, middle=middle)
        placed = place(inputs, back, face)
        group = tuple(case for case in inputs.cases if case.back == change)
        found |= {one.case: one for one in _settled(inputs, group, back, placed, poses)}
    return tuple(found[case] for case in inputs.cases if case in found)


def _settled(
    inputs: FitInputs,
    group: tuple[LoadCase, ...],
    back: BackSurface,
    placed: Placed,
    poses: Mapping[str, tuple[float, float, float]],
) -> list[Solved]:
    """Settle load cases on one shape of back; one that finds no rest does not stop the others."""
    known = all(case.name in poses for case in group)
    try:
        settled = settle(
            placed,
            tuple(forces_of(inputs.loads, inputs.tree, case) for case in group),
            inputs.loads.moments,
            inputs.layers.law(),
            linear=inputs.settings.is_linear,
            tolerance=inputs.settings.tolerance,
            start=np.array([poses[case.name] for case in group]) if known else None,
        )
    except NotConverged:
        if group == inputs.cases[:1]:
            raise
        if len(group) == 1:
            return []
        return [one for case in group for one in _settled(inputs, (case,), back, placed, poses)]
    if group[0] == inputs.cases[0]:
        _raise_if_lost(settled, group[0])
    return [
        Solved(case, back, placed, settled, k)
        for k, case in enumerate(group)
        if settled.status[k] == 0
    ]


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


def place(inputs: FitInputs, surface: BackSurface, face: Underside) -> Placed:
    """Return a tree's underside over a back, where the inputs say it lies, pad and shims with it.

    Raises
    ------
    InvalidShape
        If it lies off the back.
    """
    tip = inputs.placement.tip
    patch = patch_under(surface, face, tip)
    x, z = inputs.settings.axis or (float(face.bearing.mean()), 0.0)
    bearing = face.bearing[patch.side]
    along = (patch.points[:, 0] - tip - bearing[:, 0]) / (bearing[:, 1] - bearing[:, 0])
    shims = inputs.layers.shims.thickness(along, patch.side)
    thickness = inputs.layers.pad_thickness + shims
    return Placed(face, patch, tip, np.array([tip + x, 0.0, z]), thickness)


def _raise_if_lost(settled: Settled, first: LoadCase) -> None:
    if settled.status[0] == RESTLESS:
        raise NotConverged(f"In case '{first.name}' the tree does not come to rest.")
    if settled.status[0] == OUTSIDE:
        raise LoadOutsideSupport(
            f"The load of case '{first.name}' acts outside the support: the tree tips over."
        )
    if settled.status[0] != 0:
        raise StabilityLost(
            f"In case '{first.name}' the tree does not hold against the height of the rider.",
            margin=float(settled.margin[0]),
        )


def _load_ratio(inputs: FitInputs) -> list[Measure]:
    if not inputs.horse_mass or inputs.loads.carried_mass <= 0:
        return []
    return [Measure("load_ratio", inputs.loads.carried_mass / inputs.horse_mass, "1")]


def _stations(inputs: FitInputs, placed: Placed) -> list[tuple[str, float]]:
    if isinstance(inputs.back, BackShape):
        return [(station.name, station.distance) for station in inputs.back.stations]
    front, rear = placed.tip + placed.face.bearing[0]
    return [(f"S{i + 1}", float(x)) for i, x in enumerate(np.linspace(front, rear, 5))]


def _warnings(inputs: FitInputs, surface: BackSurface, solved: tuple[Solved, ...]) -> list[str]:
    kept, placed = {one.case for one in solved}, solved[0].placed
    out = [
        f"Case '{case.name}' has no balanced pose and was left out."
        for case in inputs.cases
        if case not in kept
    ]
    rough = [
        one.case
        for one in solved
        if one.settled.passes > PATIENCE and one.settled.unrest[one.index] > ROUGH
    ]
    if rough:
        named = ", ".join((case.short or case.title).lower() for case in rough)
        out.append(
            "The tree would not settle in one place and was taken at rest within a millimetre: "
            f"trust these numbers less ({named})."
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
