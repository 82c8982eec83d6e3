"""Trees that bend, and saddles without one, as the engine's trees."""

import math
from dataclasses import fields

from fitting.adapters.gathering import Gathering
from fitting.engine import (
    Bar,
    FlexibleBar,
    FlexibleTree,
    FramelessTree,
    TwoBarTree,
    flexural_stiffness,
)
from fitting.models import Saddle, TreeSpec

MM = 1e-3
GRAVITY = 9.80665  # [m/s2] standard gravity, CGPM 1901
SEAT_BONES = "12 cm apart, each on a patch 12 by 10 cm"


def bending_stiffness(tree: TreeSpec, side: str) -> float | None:
    """Return E I of one bar [N m2] from the weight hung on it, None while that is incomplete."""
    measured = (tree.flex_span_mm, tree.flex_load_kg, getattr(tree, f"flex_{side}_mm"))
    if any(value is None for value in measured):
        return None
    span, load, deflection = (float(value) for value in measured if value is not None)
    return flexural_stiffness(span=span * MM, force=load * GRAVITY, deflection=deflection * MM)


def flexible_tree(
    stiff: TwoBarTree, saddle: Saddle, tree: TreeSpec, account: Gathering
) -> FlexibleTree:
    """Return the tree of `stiff`, its bars bending between the fork and cantle of the saddle."""
    between = account.need(saddle, "fork_to_cantle_mm") * MM
    for name in ("flex_span_mm", "flex_load_kg"):
        account.need(tree, name)
    shape = {part.name: getattr(stiff, part.name) for part in fields(TwoBarTree)}
    shape |= {side: _bar(getattr(stiff, side), side, tree, account) for side in ("left", "right")}
    account.supposed(
        "Fork and cantle",
        "do not bend, and hold the bars rigidly",
        "not measured; only the bars are put to the test",
    )
    account.supposed("Twisting of the bars", "meets no resistance", "not measured")
    return FlexibleTree(**shape, cantle_from_tip=stiff.fork_from_tip + between)


def _bar(bar: Bar, side: str, tree: TreeSpec, account: Gathering) -> FlexibleBar:
    account.need(tree, f"flex_{side}_mm")
    stiffness = bending_stiffness(tree, side)
    if stiffness is not None:
        words = f"Bending stiffness, {side} bar"
        account.entered("Tree", words, f"{stiffness:.3g} N m², from the bending test")
    taken = "0 mm: it returns"
    left_over = account.assume(tree, f"set_{side}_mm", 0.0, taken=taken, why="not measured")
    shape = {part.name: getattr(bar, part.name) for part in fields(Bar)}
    return FlexibleBar(
        **shape,
        bending_stiffness=math.nan if stiffness is None else stiffness,
        set_rock=left_over * MM,
    )


def frameless_tree(saddle: Saddle, tree: TreeSpec, account: Gathering) -> FramelessTree:
    """Return the body of a saddle without a tree."""
    length = account.need(tree, "body_length_mm")
    ahead = account.need(saddle, "stirrup_ahead_of_seat_mm")
    stirrup = account.note(saddle, "stirrup_behind_tip_mm")
    if stirrup is None:
        stirrup = length / 2 - ahead
        account.supposed(
            "Low point of the seat", "the middle of the body", "stirrup strap's place not measured"
        )
    account.supposed("Seat bones", SEAT_BONES, "not measured; the middle of what is usual")
    account.supposed(
        "Spreading through body and pad",
        "at 45 degrees",
        "assumption; no body of its own stiffness",
    )
    return FramelessTree(
        length=length * MM,
        width=account.need(tree, "body_width_mm") * MM,
        thickness=account.need(tree, "body_thickness_mm") * MM,
        channel=account.assume(tree, "body_channel_mm", 0.0, taken="none", why="not measured") * MM,
        seat_low=(stirrup + ahead) * MM,
        stirrup=stirrup * MM,
    )
