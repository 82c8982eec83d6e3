"""How much room a fit leaves: before a tip carries, and before bend or rope passes a limit.

Each allowance starts from the horse standing with its rider and lets one thing grow: the load moves
toward a tip, the back bends, a rope pulls at the horn. The tree is followed from rest to rest (see
`continuation`) until it first passes the far bound of a rule that reads how hard it presses, how
much lies on the loin, or whether it holds at all. The same limits as in the findings, so that an
allowance ends where its finding begins.

Pressures are the model's: an allowance is good for comparing trees and for its order of size. What
it starts from, standing, may be past a limit already; then there is no room and the value is zero.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial

import numpy as np

from .continuation import Crossing, Span
from .evaluate import place
from .geometry import BackSurface, build_surface
from .inputs import FitInputs
from .loads import LoadCase, Loads, PointForce, forces_of
from .motion import BackChange, moved
from .pose import Placed, settle
from .profiles import SIDES, Array
from .results import Allowance, FitResult
from .rules import Rule
from .stance import (
    HOLDS,
    Growing,
    Stance,
    Trial,
    bend_crossings,
    crossings,
    excess_of_limits,
    excess_of_tip,
    settled_each,
    tip_gaps,
)
from .underside import Underside, underside

HAND_PUSH = 50.0  # [N] pressed down by hand at one end in the see-saw test, 5 kg; assumption
LARGEST_BEND = float(np.radians(20.0))  # over 17 in; walk needs 7.6 (see `motion`), set here
LARGEST_PULL = 3500.0  # [N] estimate for a 110 kg calf stopped from 8 m/s within 1 m; derived here
BEND_SPAN = Span(LARGEST_BEND, float(np.radians(3.0)), float(np.radians(0.1)))
PULL_SPAN = Span(LARGEST_PULL, 300.0, 5.0)
TURN_STEP, TURN_TOLERANCE = 0.02, 5e-4  # [m] by which the load is moved
ARM = 0.5  # [m] of the couple that moves the load
ENDS = ("front", "rear")
TIP_CARRIES = "tip_carries"
GIRTHED = "saddle_only"  # the load case that a hand under the tips finds


def with_allowances(
    inputs: FitInputs, result: FitResult, *, surface: BackSurface | None = None
) -> FitResult:
    """Return a result with its allowances.

    Parameters
    ----------
    inputs : FitInputs
        What the result came from; the first load case is the horse standing with its rider. Rope
        is looked at where a load case has one.
    result : FitResult
    surface : BackSurface, optional
        The standing back's cells, if they were built before.

    Raises
    ------
    NotConverged
        If the tree does not come to rest standing, which the result says it does.
    """
    surface = surface or build_surface(inputs.back, grid=inputs.settings.grid)
    placed = place(inputs, surface, underside(inputs.tree))
    known = {case.name: np.array([case.pose]) for case in result.cases}
    first, *others = inputs.cases
    stance = at_rest(inputs, placed, first, known[first.name])
    stances = {first.name: stance} | {
        case.name: at_rest(inputs, placed, case, known[case.name])
        for case in others
        if case.name == GIRTHED and case.name in known
    }
    ropes = {case.name: partial(_rope, inputs, case) for case in inputs.cases if case.rope}
    bends = bend_crossings(stance, partial(_bent, inputs, surface, placed.face), BEND_SPAN)
    found = (
        *tip_allowances(stances),
        *see_saw(stance, _loose(inputs)),
        *_bends(bends, stance.limits),
        *rope_allowances(stance, ropes),
    )
    return replace(result, allowances=found)


def at_rest(inputs: FitInputs, placed: Placed, case: LoadCase, near: Array) -> Stance:
    """Return a tree at rest in a load case on the standing back, from a pose near by (1, 3)."""
    forces, law = forces_of(inputs.loads, inputs.tree, case), inputs.layers.law()
    linear, moments = inputs.settings.is_linear, inputs.loads.moments
    settled = settle(placed, (forces,), moments, law, linear=linear, start=near)
    return Stance(placed, forces, moments, law, settled, inputs.back.last_rib, linear)


def _bent(inputs: FitInputs, surface: BackSurface, face: Underside, bend: float) -> Placed:
    middle = inputs.placement.tip + float(face.bearing.mean())
    return place(inputs, moved(surface, BackChange(bend=bend), middle=middle), face)


def _rope(inputs: FitInputs, case: LoadCase, pull: float) -> tuple[PointForce, ...]:
    return forces_of(replace(inputs.loads, rope_pull=pull), inputs.tree, case)


def _loose(inputs: FitInputs) -> tuple[PointForce, ...]:
    """The saddle alone, girth loose."""
    alone = Loads(saddle_mass=inputs.loads.saddle_mass, girth_tension=0.0)
    return forces_of(alone, inputs.tree, LoadCase("loose", "Girth loose", has_rider=False))


def tip_allowances(stances: Mapping[str, Stance]) -> tuple[Allowance, ...]:
    """Return the room under each tip, and how far the tree tips before the first one carries.

    Parameters
    ----------
    stances : mapping of str to Stance
        By load case, on one placed tree.
    """
    trials = [_turn_trial(stance, end) for stance in stances.values() for end in (0, -1)]
    found = iter(crossings(trials))
    out: list[Allowance] = []
    for case, stance in stances.items():
        out += _tip_rooms(stance, case)
        for end in ENDS:
            out += _tip_turn(next(found), end, case)
    return tuple(out)


def rope_allowances(stance: Stance, ropes: Mapping[str, Growing]) -> tuple[Allowance, ...]:
    """Return the pull at the horn that first passes a limit.

    Parameters
    ----------
    stance : Stance
        Standing, with rider.
    ropes : mapping of str to callable
        By load case, all forces at a pull [N].
    """
    trials = [Trial(stance, rope, excess_of_limits, PULL_SPAN) for rope in ropes.values()]
    return tuple(
        _limited(crossing, stance.limits, "rope", "N", case=name)
        for name, crossing in zip(ropes, crossings(trials), strict=True)
        if crossing is not None
    )


def _bends(
    both: tuple[Crossing | None, Crossing | None], limits: tuple[Rule, ...]
) -> list[Allowance]:
    return [
        _limited(crossing, limits, "bend", "rad", side=side, case=f"bend_{side}")
        for side, crossing in zip(SIDES, both, strict=True)
        if crossing is not None
    ]


def _limited(
    crossing: Crossing,
    limits: tuple[Rule, ...],
    code: str,
    unit: str,
    *,
    side: str = "",
    case: str = "",
) -> Allowance:
    codes = (*(rule.code for rule in limits), HOLDS)
    limit = codes[crossing.limit] if crossing.is_reached else ""
    return Allowance(code, crossing.at, unit, side, case, crossing.is_reached, limit)


def _tip_rooms(stance: Stance, case: str) -> list[Allowance]:
    gaps = tip_gaps(stance, stance.settled, 0)
    return [
        Allowance(f"tip_room_{end}", max(float(gap), 0.0), "m", side, case, True, TIP_CARRIES)
        for row, end in zip(gaps.T, ENDS, strict=True)
        for gap, side in zip(row, SIDES, strict=True)
        if np.isfinite(gap)
    ]


def _turn_trial(stance: Stance, end: int) -> Trial:
    """Move the load toward an end, as a couple of it times the distance."""
    toward = -1.0 if end == 0 else 1.0
    face = stance.placed.face
    span = Span((float(np.max(face.length)) - face.start) / 2, TURN_STEP, TURN_TOLERANCE)

    def forces(moved: float) -> tuple[PointForce, ...]:
        pair = toward * moved * stance.down / (2 * ARM)
        couple = (
            PointForce((0.0, 0.0, -pair), (ARM, 0.0, 0.0)),
            PointForce((0.0, 0.0, pair), (-ARM, 0.0, 0.0)),
        )
        return (*stance.forces, *couple)

    return Trial(stance, forces, excess_of_tip(end), span)


def _tip_turn(crossing: Crossing | None, end: str, case: str) -> list[Allowance]:
    if crossing is None:
        return []
    turned = abs(float(crossing.pose[1] - crossing.start[1]))
    side, limit = (SIDES[crossing.limit], TIP_CARRIES) if crossing.is_reached else ("", "")
    return [Allowance(f"tip_turn_{end}", turned, "rad", side, case, crossing.is_reached, limit)]


def see_saw(stance: Stance, loose: tuple[PointForce, ...]) -> list[Allowance]:
    """Return the angle between the tree pressed by hand at the front and at the rear.

    Parameters
    ----------
    stance : Stance
        The tree, from whose rest the search begins.
    loose : tuple of PointForce
        The saddle's own weight, girth loose; with none, there is only the hand.

    Returns
    -------
    list of Allowance
        Empty where it would not hold.
    """
    ends = stance.placed.face.bearing.mean(axis=0)
    pressed = [(*loose, PointForce((0.0, 0.0, -HAND_PUSH), (float(x), 0.0, 0.0))) for x in ends]
    found = settled_each(stance, pressed, np.tile(stance.pose, (2, 1)))
    poses = [one[0].pose[one[1]] for one in found if one and one[0].status[one[1]] == 0]
    if len(poses) < 2:
        return []
    return [Allowance("see_saw", float(poses[1][1] - poses[0][1]), "rad", case=GIRTHED)]
