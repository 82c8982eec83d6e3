"""What an evaluation depends on, and a load case once it is settled."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .geometry import Back, BackSurface, Grid
from .layers import Layers
from .loads import LoadCase, Loads, cases_for
from .measuring import Errors
from .pose import Placed, Settled
from .profiles import Array
from .trees import Tree


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
    errors : Errors
        How far off the rest may be; what the bands are drawn from.
    """

    back: Back
    tree: Tree
    placement: Placement
    layers: Layers
    loads: Loads
    horse_mass: float | None = None
    cases: tuple[LoadCase, ...] = cases_for()
    settings: Settings = field(default_factory=Settings)
    errors: Errors = field(default_factory=Errors)


@dataclass(frozen=True, eq=False)
class Solved:
    """One load case settled: the tree placed on that case's back, and row `index` of `settled`."""

    case: LoadCase
    surface: BackSurface
    placed: Placed
    settled: Settled
    index: int

    @property
    def pose(self) -> Array:
        """Heave [m], pitch and roll [rad], (3,)."""
        return np.asarray(self.settled.pose[self.index], float)
