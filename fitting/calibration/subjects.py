"""The generic horse, saddles and riders that stand in for those of the experiments, in SI.

No paper gives its horses and saddles in numbers. These follow published means where there are any
and common practice elsewhere; every figure is marked. Well-fitting means here that the faces of the
panels lie along the back under them and curve as it does.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from fitting.engine import (
    BackShape,
    Bar,
    FitInputs,
    FramelessTree,
    Grid,
    Layers,
    Loads,
    Panel,
    PanelTree,
    Placement,
    Settings,
    Shims,
    Station,
    TwoBarTree,
    build_surface,
    evaluate_fit,
    power_profile,
    sagitta_line,
)
from fitting.engine.layers import Layer
from fitting.engine.loads import LOAD_CASES

CASES = tuple(case for case in LOAD_CASES if case.name in ("standing", "saddle_only"))

# Half-widths 3 and 15 cm below the midline [m]. T10, 0.12 m behind the blade here, is 31.2 cm wide
# 15 cm down (half-pad and shims, Utrecht 2023) plus what a narrow T8 takes off; the rest assumption
# within common practice. Same left and right.
SECTIONS = (
    ("T8", 0.04, 0.062, 0.150),
    ("T10", 0.12, 0.066, 0.156),
    ("T13", 0.24, 0.083, 0.190),
    ("T16", 0.34, 0.094, 0.205),
    ("T18", 0.46, 0.102, 0.216),
)
DIP, LOWEST, LAST_RIB = 0.011, 0.27, 0.50  # [m] over 17 in; low end of common practice (10-35 mm)
TIP = 0.03  # [m] behind the blade, two fingers; common practice

PANEL_LENGTH, CHANNEL = 0.45, 0.07  # [m] middle of common practice
FLOCK_DEPTH = 0.030  # [m] common practice
STIRRUPS_AHEAD = 0.10  # [m] of the seat's low point; common practice
SADDLE_MASS = 8.0  # [kg] middle of common practice (6-10)
GIRTH_AT = 0.13  # [m] behind the front; assumption
HALF_PAD, SHIM = 0.012, 0.013  # [m] pad: common practice; shims: Utrecht 2023

WIDTH_STEP = math.radians(5.0)  # per side: one step is 10 degrees included, or 2 cm at the points
CHANNEL_STEP = 0.02  # [m] where the tree differs along its whole length
GRID = Grid(along=60, across=16)


@dataclass(frozen=True)
class Subject:
    """What else the experiments leave open, in the middle of common practice.

    Panel width and roundness across [m] (flat once the wool has bedded in), rider [kg], girth per
    side [N]; whether a tree of another width differs at the head alone, or along its whole length.
    """

    panel_width: float = 0.12
    crown: float = 0.0
    rider_mass: float = 65.0
    girth: float = 100.0
    opens_at_head: bool = True


GENERIC = Subject()


@dataclass(frozen=True)
class Guess:
    """One set of values for what is fitted; units as in `data/parameters.toml`."""

    tissue_modulus: float
    tissue_scale: float
    flock_modulus: float
    rider_height: float
    rider_place: float

    def layers(self, *, pad: float = 0.0, shim: float = 0.0) -> Layers:
        """Return tissue, flock, and a half pad and front shims of a thickness [m]."""
        flock = Layer(self.flock_modulus, FLOCK_SCALE)
        soft = Layer(self.flock_modulus * FLOCK_DEPTH / pad, FLOCK_SCALE) if pad else None
        return Layers(
            tissue=Layer(self.tissue_modulus, self.tissue_scale),
            flock=flock,
            pad=soft,
            pad_thickness=pad,
            shims=Shims(left_front=shim, right_front=shim),
        )


FLOCK_SCALE = 5.0e3  # [Pa] as in the engine; a half pad is taken as firm as flock of its thickness


def back() -> BackShape:
    """Return the generic riding horse's back."""
    line = sagitta_line(sagitta=DIP, lowest=LOWEST)
    stations = []
    for name, x, upper, lower in SECTIONS:
        half = power_profile(half_width_3=upper, half_width_15=lower)
        stations.append(Station(name, x, half, half))
    return BackShape(tuple(stations), left_line=line, right_line=line, last_rib=LAST_RIB)


BACK = back()
SURFACE = build_surface(BACK, grid=GRID)


def _slope_under_panel(x: float, width: float = GENERIC.panel_width) -> float:
    """Slope of the back across a panel at x behind the blade [rad]."""
    y = np.linspace(CHANNEL / 2, CHANNEL / 2 + 0.8 * width, 15)
    row = SURFACE.z[0, int(np.argmin(np.abs(SURFACE.x - x)))]
    return float(math.atan(-np.polyfit(y, np.interp(y, SURFACE.y, row), 1)[0]))


def panelled(subject: Subject, *, place: float, rock: float) -> PanelTree:
    """Return the panelled saddle, its faces along the back; `place` of the rider along it."""
    width = subject.panel_width
    panel = Panel(
        length=PANEL_LENGTH,
        width_front=width,
        width_middle=width,
        width_rear=width,
        slope_front=_slope_under_panel(TIP, width),
        slope_rear=_slope_under_panel(TIP + PANEL_LENGTH, width),
        rock=rock,
        crown=subject.crown,
    )
    seat = place * PANEL_LENGTH + Loads().stirrup_share * STIRRUPS_AHEAD
    return PanelTree(
        panel, panel, CHANNEL, CHANNEL, CHANNEL, seat_low=seat, stirrup=seat - STIRRUPS_AHEAD
    )


def opened_throughout(tree: PanelTree, steps: float) -> PanelTree:
    """Return the tree opened by width steps along its whole length: angle, and 2 cm of channel."""
    turn, wider = steps * WIDTH_STEP, steps * CHANNEL_STEP
    front, rear = tree.left.slope_front - turn, (tree.left.slope_rear or 0.0) - turn
    panel = replace(tree.left, slope_front=front, slope_rear=rear)
    channel = CHANNEL + wider
    return replace(
        tree,
        left=panel,
        right=panel,
        channel_front=channel,
        channel_middle=channel,
        channel_rear=channel,
    )


def opened(tree: PanelTree, steps: float, height: float) -> PanelTree:
    """Return the tree with its head opened (below zero: closed) by width steps.

    Notes
    -----
    The points turn about the top of the head and the panels with them, so that a closed head
    stands lower at the bar line, by y step / cos2 of the slope, than the fitting one: put on the
    horse, the seat tips up in front. The panels' own shape stays. An underside lower in front by c
    over its length L is the same underside turned by c/L, with the rider's point, at its height,
    moved back by as much.
    """
    turn, slope = steps * WIDTH_STEP, tree.left.slope_front
    waist = (slope + (tree.left.slope_rear or 0.0)) / 2
    line = CHANNEL / 2 + tree.left.width_middle / 2 * math.cos(waist)
    tip_up = -turn * line / math.cos(slope) ** 2 / PANEL_LENGTH
    panel = replace(tree.left, slope_front=slope - turn)
    return replace(
        tree,
        left=panel,
        right=panel,
        seat_low=tree.seat_low + tip_up * height,
        stirrup=tree.stirrup + tip_up * height,
    )


def _fitting_rock() -> float:
    """Sagitta of a panel that curves as the back does along the bar line [m]."""
    tree = panelled(GENERIC, place=0.44, rock=0.0)
    flat = ridden(tree, Guess(1.5e6, 30e3, 0.73e6, 0.25, 0.44).layers(), 0.25, GENERIC)
    over_17_in = evaluate_fit(flat, surface=SURFACE).value("rock_mismatch", side="left")
    return float(over_17_in * (PANEL_LENGTH / 0.4318) ** 2)


def ridden(
    tree: PanelTree | TwoBarTree | FramelessTree,
    layers: Layers,
    height: float,
    subject: Subject,
    *,
    load: float = 1.0,
    back_by: float = 0.0,
    stirrups: float = Loads().stirrup_share,
) -> FitInputs:
    """Return a pairing on the generic back; `load` multiplies the rider's weight."""
    return FitInputs(
        back=BACK,
        tree=replace(tree, seat_low=tree.seat_low + back_by, stirrup=tree.stirrup + back_by),
        placement=Placement(tip=TIP),
        layers=layers,
        loads=Loads(
            rider_mass=subject.rider_mass * load,
            saddle_mass=SADDLE_MASS,
            girth_tension=subject.girth,
            rigging=GIRTH_AT,
            rider_height=height,
            stirrup_share=stirrups,
        ),
        cases=CASES,
        settings=Settings(grid=GRID),
    )


ROCK = _fitting_rock()


def frameless(*, place: float) -> FramelessTree:
    """Return a saddle without a frame for the same rider: common practice, no source."""
    seat = place * PANEL_LENGTH + Loads().stirrup_share * STIRRUPS_AHEAD
    return FramelessTree(
        length=PANEL_LENGTH,
        width=0.16,
        thickness=FLOCK_DEPTH,
        seat_low=seat,
        stirrup=seat - STIRRUPS_AHEAD,
    )


def western() -> TwoBarTree:
    """Return a western tree along the back: middle of common practice, no source."""
    bar = Bar(
        length=0.56,
        bearing_length=0.44,
        width_front=0.15,
        width_centre=0.09,
        width_rear=0.14,
        slope_front=_slope_under_panel(TIP + 0.05),
        slope_rear=_slope_under_panel(TIP + 0.45),
        rock=DIP,
        flare_front=0.014,
        flare_rear=0.012,
        crown=0.004,
    )
    return TwoBarTree(bar, bar, spread_hand_hole=0.10, seat_low=0.30, stirrup=0.21)
