"""Where a tree creeps to along the back, and how the findings change if it lies elsewhere.

Model (assumption). What pushes a tree along the back is the level part of what the contact pushes
with, and of the girth straps, which draw the rigging over the girth groove. A back that dips pushes
a tree toward its lowest place; a steep front pushes it back, a downhill loin forward. While the
horse works, movement shakes friction loose time and again, so that the tree ends where the push is
nothing and comes back from either side. Standing, friction holds it wherever it was put: the push
is a few per cent of the load.

What this cannot know: friction of pad and coat, and so how soon the tree gets there, or whether it
does; breast collar, crupper and rear cinch; the shoulder blade that pushes the front back at every
step; up- and downhill; a rider who sits against it; how the girth groove runs down the side. Where
no such place lies within the shifts looked at, the measured place stands and the push says which
way it tends.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from .errors import EngineError
from .evaluate import evaluate_fit
from .findings import LEVELS, Finding
from .geometry import BackSurface, build_surface
from .inputs import FitInputs, Placement
from .loads import RIGGING
from .results import FitResult, PlacementPoint

SHIFTS = (-0.03, -0.02, -0.01, 0.0, 0.01, 0.02, 0.03)  # [m] to the rear positive
STRAP_DROP = 0.45  # [m] from the rigging down to where the girth is held by the body; assumption
STILL_PUSH = 0.5  # [N] that counts as none
CLOSINGS = 4  # solves to close in on the place


def with_placement(
    inputs: FitInputs,
    result: FitResult,
    *,
    surface: BackSurface | None = None,
    shifts: Sequence[float] = SHIFTS,
) -> FitResult:
    """Return a result with its fit at other places, and at the one the tree creeps to.

    Parameters
    ----------
    inputs : FitInputs
        What the result came from.
    result : FitResult
    surface : BackSurface, optional
        The back's cells, if they were built before.
    shifts : sequence of float
        From where it was placed [m], increasing, with 0 among them.

    Returns
    -------
    FitResult
        `placement_sweep` in order from front to rear; one more point, where it settles, if the
        shifts hold such a place.
    """
    surface = surface or build_surface(inputs.back, grid=inputs.settings.grid)
    at_zero = list(shifts).index(0.0)
    found = {at_zero: result}
    for order in (range(at_zero - 1, -1, -1), range(at_zero + 1, len(shifts))):
        near = result
        for i in order:
            moved = _moved(inputs, shifts[i], surface, near)
            if moved is not None:
                found[i] = near = moved
    points = [_point(inputs, shift, found.get(i)) for i, shift in enumerate(shifts)]
    settled = _settled(inputs, points, surface, result)
    if settled is not None:
        points = sorted((*points, settled), key=lambda point: point.tip)
    return replace(result, placement_sweep=tuple(points))


def settled_place(sweep: Sequence[PlacementPoint]) -> PlacementPoint | None:
    """Return the place the tree creeps to; None where the measured one stands."""
    return next((point for point in sweep if point.settles), None)


def girth_push(inputs: FitInputs, tip: float) -> float:
    """Return the level part of both straps' pull along the back, to the rear positive [N].

    Zero where nobody measured the groove: the girth is then taken to hang straight.
    """
    groove, loads = inputs.back.girth_groove, inputs.loads
    if groove is None:
        return 0.0
    rigging = tip + (RIGGING if loads.rigging is None else loads.rigging)
    down = 2.0 * loads.girth_tension * float(np.cos(loads.girth_angle))
    return down * (groove - rigging) / STRAP_DROP


def _moved(
    inputs: FitInputs, shift: float, surface: BackSurface, near: FitResult
) -> FitResult | None:
    """The fit at another place; None where the tree finds no rest or lies off the back."""
    there = replace(inputs, placement=Placement(inputs.placement.tip + shift))
    try:
        return evaluate_fit(there, surface=surface, near=near)
    except EngineError:
        return None


def _point(inputs: FitInputs, shift: float, result: FitResult | None) -> PlacementPoint:
    tip = inputs.placement.tip + shift
    if result is None:
        return PlacementPoint(tip, shift)
    contact = result.case(inputs.cases[0].name).value("contact_push")
    push = contact + girth_push(inputs, tip)
    return PlacementPoint(tip, shift, levels_of(result.findings), push)


def levels_of(findings: Sequence[Finding]) -> tuple[tuple[str, str, float], ...]:
    """Return code, level and value of each finding, of the worse side where there are two."""
    worst: dict[str, Finding] = {}
    for finding in findings:
        held = worst.setdefault(finding.code, finding)
        if LEVELS.index(finding.level) > LEVELS.index(held.level):
            worst[finding.code] = finding
    return tuple((one.code, one.level, one.value) for one in worst.values())


def _settled(
    inputs: FitInputs, points: Sequence[PlacementPoint], surface: BackSurface, near: FitResult
) -> PlacementPoint | None:
    """The place nearest the measured one at which the push turns from rearward to forward."""
    turning = [
        (ahead, behind) for ahead, behind in pairwise(points) if ahead.push >= 0.0 > behind.push
    ]
    if not turning:
        return None
    ahead, behind = min(turning, key=lambda pair: abs(pair[0].shift + pair[1].shift))
    for _ in range(CLOSINGS):
        share = np.clip(ahead.push / (ahead.push - behind.push), 0.05, 0.95)
        shift = ahead.shift + float(share) * (behind.shift - ahead.shift)
        point = _point(inputs, shift, _moved(inputs, shift, surface, near))
        if np.isnan(point.push):
            return None
        if abs(point.push) < STILL_PUSH:
            break
        ahead, behind = (point, behind) if point.push > 0 else (ahead, point)
    return replace(point, settles=True)
