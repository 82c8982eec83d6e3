"""Backs and trees of the invented practice, as engine inputs. Lengths in inches where it has them.

Three numbers of the first sketch do not close geometrically and are given here as they must be:
the support length of Corporal Thistle's back, 20.5 in, so that a bearing part of 17 in that begins
3 in behind the blade ends half an inch before the last rib (and one of 20.5 in, 2 in past it, both
as recorded); the last station with it; and the new tree's gullet height, 6 in, which leaves the
clearance the visit found.
"""

import math
from dataclasses import replace

import numpy as np

from fitting.engine import (
    BackShape,
    Bar,
    FitInputs,
    FitResult,
    HalfProfile,
    Layers,
    LineProfile,
    Loads,
    Panel,
    PanelTree,
    Placement,
    Station,
    TwoBarTree,
    default_layers,
    power_profile,
    sagitta_line,
)

INCH = 0.0254
POUND = 0.45359237
Pair = tuple[float, float]


def half(widths_cm: Pair) -> HalfProfile:
    """Half-profile through half-widths 3 and 15 cm down [cm]."""
    return power_profile(half_width_3=widths_cm[0] / 100, half_width_15=widths_cm[1] / 100)


def back(
    *,
    left: tuple[Pair, Pair, Pair],
    right: tuple[Pair, Pair, Pair],
    rock_mm: Pair,
    support_in: float,
) -> BackShape:
    """Back from half-widths (3, 15 cm down) [cm] at S1, S3 and S5; S2 and S4 lie between."""
    distances = [1.5 * INCH, 5.5 * INCH, 9.5 * INCH, 13.5 * INCH, (support_in - 0.5) * INCH]
    known = [distances[0], distances[2], distances[4]]
    stations = []
    for i, x in enumerate(distances):
        halves = [
            half((np.interp(x, known, [w[0] for w in s]), np.interp(x, known, [w[1] for w in s])))
            for s in (left, right)
        ]
        stations.append(Station(f"S{i + 1}", x, *halves))
    low = 11.5 * INCH  # the back is lowest a little behind mid-support
    lines = [sagitta_line(sagitta=mm / 1000, lowest=low) for mm in rock_mm]
    return BackShape(
        tuple(stations), left_line=lines[0], right_line=lines[1], last_rib=support_in * INCH
    )


THISTLE = back(
    left=((7.0, 17.4), (9.1, 21.2), (10.8, 22.9)),
    right=((6.9, 17.3), (9.1, 21.2), (10.7, 22.8)),
    rock_mm=(18, 18),
    support_in=20.5,
)


def two_bar(
    *,
    length_in: float,
    bearing_in: float,
    widths_in: tuple[float, float, float],
    spread_in: float,
    front_deg: Pair,
    rear_deg: float,
    rock_mm: float,
    flare_mm: Pair,
    crown_mm: float,
    slot_in: float,
    ahead_in: float,
    gullet_in: float,
) -> TwoBarTree:
    """Tree from a fitter's sheet; slopes per side, left and right."""
    front, centre, rear = (w * INCH for w in widths_in)
    bars = [
        Bar(
            length=length_in * INCH,
            bearing_length=bearing_in * INCH,
            width_front=front,
            width_centre=centre,
            width_rear=rear,
            slope_front=math.radians(slope),
            slope_rear=math.radians(rear_deg),
            rock=rock_mm / 1000,
            flare_front=flare_mm[0] / 1000,
            flare_rear=flare_mm[1] / 1000,
            crown=crown_mm / 1000,
        )
        for slope in front_deg
    ]
    return TwoBarTree(
        *bars,
        spread_hand_hole=spread_in * INCH,
        seat_low=(slot_in + ahead_in) * INCH,
        stirrup=slot_in * INCH,
        gullet_height=gullet_in * INCH,
    )


TR_01 = two_bar(
    length_in=23.5,
    bearing_in=20.5,
    widths_in=(5.25, 3.0, 5.25),
    spread_in=3.75,
    front_deg=(49, 49),
    rear_deg=34,
    rock_mm=3,
    flare_mm=(4, 3),
    crown_mm=3,
    slot_in=9.0,
    ahead_in=5.5,
    gullet_in=6.5,
)
TR_02 = two_bar(
    length_in=21.0,
    bearing_in=17.0,
    widths_in=(6.25, 3.5, 6.0),
    spread_in=4.1,
    front_deg=(44, 44),
    rear_deg=29,
    rock_mm=16,
    flare_mm=(15, 14),
    crown_mm=6,
    slot_in=8.0,
    ahead_in=3.5,
    gullet_in=6.0,
)
FORK = 0.075


def thistle_pair(
    tree: TwoBarTree, *, tip_in: float = 1.0, pad_mm: float = 19, layers: Layers | None = None
) -> FitInputs:
    """Corporal Thistle, rider 180 lb, saddle 38 lb, gear 20 lb, 7/8 rigging."""
    return FitInputs(
        back=THISTLE,
        tree=tree,
        placement=Placement(tip=tip_in * INCH),
        layers=layers or default_layers(pad_thickness=pad_mm / 1000),
        loads=Loads(
            rider_mass=180 * POUND,
            saddle_mass=38 * POUND,
            gear_mass=20 * POUND,
            rigging=FORK + 2 * INCH,
        ),
        horse_mass=1066 * POUND,
    )


def flat_pair() -> FitInputs:
    """The flat tree as it came: full rigging, worn pad, tip half an inch behind the blade."""
    inputs = thistle_pair(TR_01, tip_in=0.5, pad_mm=17)
    return replace(inputs, loads=replace(inputs.loads, rigging=FORK))


def with_bars(tree: TwoBarTree, **changes: float) -> TwoBarTree:
    """Return a tree with the same changes added to both bars [m], [rad]."""
    bars = [
        replace(bar, **{name: getattr(bar, name) + step for name, step in changes.items()})
        for bar in (tree.left, tree.right)
    ]
    return replace(tree, left=bars[0], right=bars[1])


def wider(tree: TwoBarTree, *, degrees: float, spread: float) -> TwoBarTree:
    """Return a tree opened by degrees included and metres between the bars; less than 0 narrows."""
    opened = -math.radians(degrees / 2)
    tree = with_bars(tree, slope_front=opened, slope_rear=opened)
    return replace(tree, spread_hand_hole=tree.spread_hand_hole + spread)


def panel_tree(*, head_deg: float, rock: float = 0.009) -> PanelTree:
    """The general-purpose saddle of the young mare."""
    panel = Panel(
        length=0.46,
        width_front=0.11,
        width_middle=0.11,
        width_rear=0.11,
        slope_front=math.radians((180 - head_deg) / 2),
        rock=rock,
        depth_front=0.030,
        depth_middle=0.025,
        depth_rear=0.035,
    )
    return PanelTree(panel, panel, 0.075, 0.075, 0.070, seat_low=0.25, stirrup=0.15)


FERN = back(
    left=((5.9, 15.2), (8.2, 19.2), (10.0, 21.3)),
    right=((5.9, 15.1), (8.2, 19.2), (10.0, 21.3)),
    rock_mm=(10, 10),
    support_in=19.5,
)


def fern_pair(tree: PanelTree) -> FitInputs:
    """Pennywhistle Fern, rider 128 lb, saddle 14 lb."""
    return FitInputs(
        back=FERN,
        tree=tree,
        placement=Placement(tip=0.03),
        layers=default_layers(pad_thickness=0.0, flock_thickness=0.030),
        loads=Loads(rider_mass=128 * POUND, saddle_mass=14 * POUND, rigging=0.16),
        horse_mass=855 * POUND,
    )


def mirrored(inputs: FitInputs) -> FitInputs:
    """Return the same pairing with left and right exchanged."""
    shape, tree = inputs.back, inputs.tree
    assert isinstance(shape, BackShape)
    assert isinstance(tree, TwoBarTree)
    stations = tuple(replace(s, left=s.right, right=s.left) for s in shape.stations)
    swapped = replace(
        shape, stations=stations, left_line=shape.right_line, right_line=shape.left_line
    )
    return replace(inputs, back=swapped, tree=replace(tree, left=tree.right, right=tree.left))


def shares(result: FitResult, case: str = "standing") -> list[float]:
    """Load of the front, middle and rear third."""
    found = result.case(case)
    return [found.value("share", zone) for zone in ("cranial", "middle", "caudal")]


def line(points: dict[float, float]) -> LineProfile:
    """A lengthwise line from distances to heights [m]."""
    return LineProfile(tuple(points), tuple(points.values()))
