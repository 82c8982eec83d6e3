"""What acts on the tree: rider, gear, the saddle's own weight, girth straps, other forces.

Points move with the tree: x behind its front tip, y to the right, z above the lowest point of its
underside. Weights keep pointing down, so a tree that tips carries its rider along. That adds the
stiffness -P H to pitch and roll, with P the weight and H its height above the axis.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .errors import InvalidShape
from .profiles import Array
from .trees import Tree, UndersideGrid

GRAVITY = 9.80665  # [m/s2] standard gravity, CGPM 1901
RIDER_HEIGHT = 0.25  # [m] of the rider's weight above the bars; assumption, sweep 0.2-0.3
SADDLE_HEIGHT = 0.08  # [m] of the saddle's own centre above the bars; assumption
STIRRUP_SHARE = 0.20  # of the rider's weight in the stirrups, sitting still; assumption
GIRTH_TENSION = 100.0  # [N] per side; 6-18 kg set standing (Wright 2010, Comp Exerc Physiol)
GIRTH_ANGLE = np.radians(15.0)  # of the strap from the vertical; assumption
RIGGING = 0.125  # [m] of the girth behind the front tip where not measured; assumption


@dataclass(frozen=True)
class PointForce:
    """A force (x, y, z) [N] at a point (x, y, z) [m] fixed to the tree."""

    force: tuple[float, float, float]
    point: tuple[float, float, float]


@dataclass(frozen=True)
class Strap:
    """A pair of girth straps: `tension` [N] on each side at an `angle` from vertical [rad]."""

    tension: float
    angle: float
    x: float

    def force(self) -> PointForce:
        """Return their resultant: the sideways parts cancel."""
        return PointForce((0.0, 0.0, -2 * self.tension * float(np.cos(self.angle))), (self.x, 0, 0))


@dataclass(frozen=True)
class Loads:
    """What acts on the tree.

    Attributes
    ----------
    rider_mass, saddle_mass, gear_mass : float
        [kg]; gear rides with the rider.
    girth_tension : float
        Per side [N].
    girth_angle : float
        From the vertical [rad].
    rigging : float or None
        Girth behind the front tip [m]; see `rigging_position`.
    rider_height : float
        Effective height of the rider's weight above the bars [m].
    stirrup_share : float
        Share of the rider's weight in the stirrups.
    forces : tuple of PointForce
        Others, in every load case.
    moments : tuple of float
        Pure moments about y and x [N m], in every load case; they press the rear, the left.
    """

    rider_mass: float = 0.0
    saddle_mass: float = 0.0
    gear_mass: float = 0.0
    girth_tension: float = GIRTH_TENSION
    girth_angle: float = GIRTH_ANGLE
    rigging: float | None = None
    rider_height: float = RIDER_HEIGHT
    stirrup_share: float = STIRRUP_SHARE
    forces: tuple[PointForce, ...] = ()
    straps: tuple[Strap, ...] = ()
    moments: tuple[float, float] = (0.0, 0.0)

    @property
    def carried_mass(self) -> float:
        """Rider, saddle and gear [kg]."""
        return self.rider_mass + self.saddle_mass + self.gear_mass


@dataclass(frozen=True)
class LoadCase:
    """One way of loading: who is on, and how far off centre [m] (x to the rear, y to the right)."""

    name: str
    title: str
    has_rider: bool = True
    offset_x: float = 0.0
    offset_y: float = 0.0


STANDING = LoadCase("standing", "Standing, with rider")
LOAD_CASES = (
    STANDING,
    LoadCase("rider_left", "Rider 30 mm to the left", offset_y=-0.030),
    LoadCase("rider_right", "Rider 30 mm to the right", offset_y=0.030),
    LoadCase("saddle_only", "Saddle and girth, no rider", has_rider=False),
)


def rigging_position(*, fraction: float, fork_to_cantle: float, fork_from_tip: float) -> float:
    """Return the girth behind the front tip [m]: (1 - f) d behind the fork line.

    Notes
    -----
    Full rigging (f = 1) hangs under the fork, centre-fire (f = 1/2) halfway to the cantle; common
    practice, no source.
    """
    if not 0 <= fraction <= 1:
        raise InvalidShape(f"must lie between 0 and 1, got {fraction}", path="fraction")
    return fork_from_tip + (1.0 - fraction) * fork_to_cantle


def rider_point(loads: Loads, tree: Tree) -> float:
    """Return where the rider's weight acts, behind the front tip [m]."""
    return tree.seat_low + loads.stirrup_share * (tree.stirrup - tree.seat_low)


def tree_length(tree: Tree) -> float:
    """Return the longer side, tip to tip [m]."""
    if isinstance(tree, UndersideGrid):
        return float(tree.x[-1])
    return max(tree.left.length, tree.right.length)


def forces_of(loads: Loads, tree: Tree, case: LoadCase) -> tuple[PointForce, ...]:
    """Return the forces of one load case on a tree, points behind its front tip."""
    forces = list(loads.forces) + [strap.force() for strap in loads.straps]
    if loads.girth_tension > 0:
        at = loads.rigging if loads.rigging is not None else RIGGING
        forces.append(Strap(loads.girth_tension, loads.girth_angle, at).force())
    if loads.saddle_mass > 0:
        middle = (tree_length(tree) / 2, 0.0, SADDLE_HEIGHT)
        forces.append(PointForce((0.0, 0.0, -GRAVITY * loads.saddle_mass), middle))
    rider = GRAVITY * (loads.rider_mass + loads.gear_mass)
    if case.has_rider and rider > 0:
        x = rider_point(loads, tree) + case.offset_x
        forces.append(PointForce((0.0, 0.0, -rider), (x, case.offset_y, loads.rider_height)))
    return tuple(forces)


def resultant(
    forces: tuple[PointForce, ...], moments: tuple[float, float], arms: Array
) -> tuple[Array, Array]:
    """Return generalised load (3,) and pose stiffness (3, 3) of forces about the axis.

    Parameters
    ----------
    forces : tuple of PointForce
        k forces.
    moments : tuple of float
        Pure moments about y and x [N m].
    arms : (k, 3) array
        Where they act now, from the axis, in directions fixed in space [m].

    Notes
    -----
    With D the part pointing down: heave D; pitch D x + F_x z; roll -D y - F_y z. As the points turn
    with the tree the moments change by -(D z - F_x x) and -(D z - F_y y) per unit angle, which is
    the stiffness returned.
    """
    f = np.array([force.force for force in forces], float).reshape(-1, 3)
    down, (x, y, z) = -f[:, 2], arms.T
    load = np.array(
        [
            np.sum(down),
            np.sum(down * x + f[:, 0] * z) + moments[0],
            np.sum(-down * y - f[:, 1] * z) + moments[1],
        ]
    )
    pitch = -np.sum(down * z - f[:, 0] * x)
    roll = -np.sum(down * z - f[:, 1] * y)
    return load, np.diag([0.0, pitch, roll])
