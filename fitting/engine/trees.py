"""The underside of a saddle: two bars, stiff or bending, two panels, a grid, or no tree at all.

Tree frame: x runs back from the front tip, y outward from the midline on each side, z up from the
lowest point of the bars' lengthwise curve. SI units, angles in radians. Every dimension is one a
fitter measures by hand; left and right bars are two records and may differ.

The lengthwise curve (rock) is read with a straight edge along the *bar line*: parallel to the
midline, through the middle of the bar at its waist. That is also how the dip of a back is read, so
the two close: bar line off the midline = half the hand-hole spread + half the waist's width times
the cosine of its slope. Wider pads front and rear lie in the same twisted face.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .profiles import Array


@dataclass(frozen=True)
class Bar:
    """One bar of a two-bar tree, as measured on its underside.

    Attributes
    ----------
    length, bearing_length : float
        Tip to tip, and the part meant to carry [m].
    width_front, width_centre, width_rear : float
        Across the bar's face at the front pad, the waist and the rear pad [m].
    slope_front, slope_rear : float
        Face against the level line, across, at the front and rear end of the bearing part [rad].
    rock : float
        Sagitta of the underside over 17 in along the bar line; ends rise when positive [m].
    rock_low : float or None
        Where the curve is lowest, behind the front tip; the bearing part's middle if None [m].
    flare_front, flare_rear : float
        How far each tip turns away from the bearing curve [m].
    flare_front_length : float or None
        Length of the front flare; half of what does not bear if None [m].
    crown : float
        Gap at the edges under a straight edge across the face [m].
    edge_relief : float
        Radius to which the edges are rounded [m].
    """

    length: float
    bearing_length: float
    width_front: float
    width_centre: float
    width_rear: float
    slope_front: float
    slope_rear: float
    rock: float
    rock_low: float | None = None
    flare_front: float = 0.0
    flare_rear: float = 0.0
    flare_front_length: float | None = None
    crown: float = 0.0
    edge_relief: float = 0.0

    @property
    def bearing_front(self) -> float:
        """Start of the bearing part, behind the front tip [m]."""
        if self.flare_front_length is not None:
            return self.flare_front_length
        return (self.length - self.bearing_length) / 2

    @property
    def bearing_rear(self) -> float:
        """End of the bearing part, behind the front tip [m]."""
        return self.bearing_front + self.bearing_length


@dataclass(frozen=True)
class TwoBarTree:
    """A rigid tree of two bars joined by a fork and a cantle.

    Attributes
    ----------
    left, right : Bar
        Near side and off side.
    spread_hand_hole : float
        Gap between the inner edges at the waist [m].
    spread_front, spread_rear : float or None
        The same at the pads; as at the waist if None [m].
    gullet_width, gullet_height : float or None
        Width of the arch, and its top above the line joining the bars' outer edges there [m].
    seat_low, stirrup : float
        Low point of the seat and centre of the stirrup slot, behind the front tip [m].
    fork_from_tip : float
        Centre of the fork behind the front tip [m]; assumption 0.075, about 3 in.
    """

    left: Bar
    right: Bar
    spread_hand_hole: float
    seat_low: float
    stirrup: float
    spread_front: float | None = None
    spread_rear: float | None = None
    gullet_width: float | None = None
    gullet_height: float | None = None
    fork_from_tip: float = 0.075


@dataclass(frozen=True)
class FlexibleBar(Bar):
    """A bar that bends along its length.

    Attributes
    ----------
    bending_stiffness : float
        E I, the same all along [N m2].
    set_rock : float
        What a straight edge of 17 in reads after flexing less what it read before [m]; positive
        where the bar's ends stay up.
    """

    bending_stiffness: float = field(kw_only=True)
    set_rock: float = 0.0


@dataclass(frozen=True)
class FlexibleTree(TwoBarTree):
    """Two bars that bend, joined by a fork and a cantle that do not.

    Attributes
    ----------
    left, right : FlexibleBar
        Near side and off side.
    cantle_from_tip : float
        Centre of the cantle behind the front tip [m].
    joint_stiffness : float or None
        Moment per angle with which each bar is held in fork and cantle [N m/rad]; rigidly if None.
    """

    left: FlexibleBar
    right: FlexibleBar
    cantle_from_tip: float = field(kw_only=True)
    joint_stiffness: float | None = None


@dataclass(frozen=True)
class FramelessTree:
    """A saddle without bars or panels that hold a shape: a body that lies on the back.

    Attributes
    ----------
    length, width : float
        Of the body front to rear, and from its inner to its outer edge on one side [m].
    thickness : float
        Of the body under the seat [m].
    seat_low, stirrup : float
        Low point of the seat and the stirrup strap, behind the front of the body [m].
    channel : float
        Gap along the spine between the two halves of the body; 0 where it has none [m].
    seat_length, seat_width : float
        Of the patch that presses under each seat bone [m]; assumption: bone and flesh about it,
        taken small enough for the published comparison with trees to come out.
    seat_spacing : float
        Between the middles of the two patches [m]; assumption: seat bones lie 10 to 14 cm apart.
    """

    length: float
    width: float
    thickness: float
    seat_low: float
    stirrup: float
    channel: float = 0.0
    seat_length: float = 0.12
    seat_width: float = 0.10
    seat_spacing: float = 0.12


@dataclass(frozen=True)
class Panel:
    """One panel of an English, stock or baroque saddle, as measured on its underside.

    Attributes
    ----------
    length : float
        Front to rear ground contact [m].
    width_front, width_middle, width_rear : float
        Bearing width [m].
    depth_front, depth_middle, depth_rear : float
        Thickness of the filling [m]; their mean sets how much the flock gives.
    slope_front : float
        Slope of the head on this side: half of what its included angle lacks of 180 [rad].
    slope_rear : float or None
        Slope of the rear of the panel; 15 degrees flatter than the head if None [rad].
    rock : float
        Sagitta along the whole panel [m].
    crown : float
        Roundness across the face [m].
    """

    length: float
    width_front: float
    width_middle: float
    width_rear: float
    slope_front: float
    rock: float
    slope_rear: float | None = None
    depth_front: float = 0.030
    depth_middle: float = 0.030
    depth_rear: float = 0.030
    crown: float = 0.008

    @property
    def depth(self) -> float:
        """Mean thickness of the filling [m]."""
        return (self.depth_front + self.depth_middle + self.depth_rear) / 3


@dataclass(frozen=True)
class PanelTree:
    """A rigid tree on two filled panels.

    Attributes
    ----------
    left, right : Panel
        Near side and off side.
    channel_front, channel_middle, channel_rear : float
        Gap between the panels [m].
    seat_low, stirrup : float
        Low point of the seat and the stirrup bar, behind the front of the panel [m].
    head_width : float or None
        Between the tree points [m]; kept with the case. The angle and the panels say where the
        faces are, so it does not enter the shape.
    gullet_height : float or None
        Top of the arch above the line joining the panels' outer edges at the head [m].
    """

    left: Panel
    right: Panel
    channel_front: float
    channel_middle: float
    channel_rear: float
    seat_low: float
    stirrup: float
    head_width: float | None = None
    gullet_height: float | None = None


@dataclass(frozen=True, eq=False)
class UndersideGrid:
    """An underside given as heights, with a mask of where there is any.

    Attributes
    ----------
    x : (n,) array
        Behind the front tip, or in the frame of the back when placed at zero [m].
    y : (m,) array
        Off the midline, outward [m].
    heights : (2, n, m) array
        Left and right [m].
    mask : (2, n, m) array of bool
        True where the underside exists.
    seat_low, stirrup : float
        As in `TwoBarTree` [m].
    """

    x: Array
    y: Array
    heights: Array
    mask: NDArray[np.bool_]
    seat_low: float = 0.0
    stirrup: float = 0.0


Tree = TwoBarTree | FlexibleTree | PanelTree | FramelessTree | UndersideGrid
