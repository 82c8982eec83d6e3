"""What acts on the tree, and the load cases: ways of loading it, on a back of some shape.

Points move with the tree: x behind its front tip, y to the right, z above the lowest point of its
underside. Weights keep pointing down, so a tree that tips carries its rider along. That adds the
stiffness -P H to pitch and roll, with P the weight and H its height above the axis.

A load case is data: who sits where, by how much a stride multiplies them, what pulls, how the back
is shaped meanwhile, and which findings read it. One entry in `LOAD_CASES` adds one.

Within a stride the force on the back swings about the rider's weight, which is its mean at trot
(13 riders, de Cocq et al. 2010, J Biomech 43:627-631, abstract read). So the factors by gait serve
peaks alone; means are those of the rider's plain weight.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .errors import InvalidShape
from .motion import AS_STANDING, BackChange
from .profiles import Array
from .trees import FramelessTree, Tree, TwoBarTree, UndersideGrid

GRAVITY = 9.80665  # [m/s2] standard gravity, CGPM 1901
RIDER_HEIGHT = 0.25  # [m] of the rider's weight above the bars; assumption, sweep 0.2-0.3
SADDLE_HEIGHT = 0.08  # [m] of the saddle's own centre above the bars; assumption
STIRRUP_SHARE = 0.20  # of the rider's weight in the stirrups, sitting still; assumption
GIRTH_TENSION = 100.0  # [N] per side; 6-18 kg set standing (Wright 2010, Comp Exerc Physiol)
GIRTH_ANGLE = np.radians(15.0)  # of the strap from the vertical; assumption
RIGGING = 0.125  # [m] of the girth behind the front tip where not measured; assumption
FORK = 0.075  # [m] of the fork behind the front tip where not measured; assumption
HORN_HEIGHT = 0.20  # [m] of the rope on the horn above the bars; assumption
DRAUGHT = 0.10  # sustained pull over the horse's weight: draught manuals, at second hand
ROPE_PULL = (
    450.0  # [N] where the horse was not weighed: a tenth of 460 kg; none published for ropes
)
# Highest force in a stride over the rider's weight. Walk and canter: 12.1 and 27.2 N per kg of
# rider (Fruehwirth et al. 2004, Equine Vet J 36:754-757, numbers from memory); rising trot: 2.54
# seated, 1.95 risen (de Cocq et al. 2010, abstract read).
GAIT_FACTORS = {"walk": 1.23, "trot": 2.54, "canter": 2.77}
ASIDE = 0.030  # [m] of a rider off balance; set here, a few times the swing of a sound seat
BEND = np.radians(8.0)  # over 17 in; half the swing at walk is 7.6, see `motion`
LIFT = 0.020  # [m] of the loin, between half the swing at trot and at walk, see `motion`
FOOT = -0.10  # [m] off the midline where the weight of a mounting rider acts, part of it taken by
# the hands on horn and mane; assumption


@dataclass(frozen=True)
class PointForce:
    """A force (x, y, z) [N] at a point (x, y, z) [m] fixed to the tree.

    `through` says what hands it on, where the saddle itself gives way: "seat", the whole "body", or
    a strap or fitting at its place.
    """

    force: tuple[float, float, float]
    point: tuple[float, float, float]
    through: str = ""


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
    rope_pull : float
        On the horn, in the load cases with a rope [N].
    horn : float or None
        Horn behind the front tip; over the fork if None [m].
    horn_height : float
        Of the rope's hold on the horn above the bars' lowest point [m].
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
    rope_pull: float = ROPE_PULL
    horn: float | None = None
    horn_height: float = HORN_HEIGHT

    @property
    def carried_mass(self) -> float:
        """Rider, saddle and gear [kg]."""
        return self.rider_mass + self.saddle_mass + self.gear_mass


@dataclass(frozen=True)
class Rope:
    """A rope from the horn: `heading` from straight ahead, right positive; `dip` below level [rad].

    `share` is the part of `Loads.rope_pull` that pulls this way.
    """

    heading: float
    dip: float
    share: float = 1.0

    def force(self, pull: float) -> tuple[float, float, float]:
        """Return the force of a pull [N]: x toward the tail, y to the right, z up."""
        level = pull * self.share * float(np.cos(self.dip))
        return (
            -level * float(np.cos(self.heading)),
            level * float(np.sin(self.heading)),
            -pull * self.share * float(np.sin(self.dip)),
        )


@dataclass(frozen=True)
class LoadCase:
    """One way of loading a tree on a back of some shape.

    Attributes
    ----------
    name, title, short : str
        Key; in words; in a word or two.
    has_rider : bool
        Rider and gear sit in the saddle.
    offset_x, offset_y : float
        How far off centre they sit, to the rear and to the right [m].
    factor : float
        On the weight of rider and gear: the highest within a stride over the mean. Other than 1
        only peaks are read.
    hangs : float or None
        Off the midline where the rider's weight hangs at the stirrup instead [m].
    rope : Rope or None
        From the horn.
    forces : tuple of PointForce
        Others.
    back : BackChange
        How the back differs from standing.
    feeds : tuple of str
        Groups of findings that read it; see `rules.Rule.reads`.
    needs : str
        "" for every saddle, else the work it belongs to: "rope" or "mounting".
    """

    name: str
    title: str
    has_rider: bool = True
    offset_x: float = 0.0
    offset_y: float = 0.0
    factor: float = 1.0
    hangs: float | None = None
    rope: Rope | None = None
    forces: tuple[PointForce, ...] = ()
    back: BackChange = AS_STANDING
    feeds: tuple[str, ...] = ("ridden", "ends")
    needs: str = ""
    short: str = ""


MOVED = ("moved", "ends")
STANDING = LoadCase(
    "standing",
    "Standing, with rider",
    feeds=("standing", "ridden", "ends"),
    short="Standing",
)
LOAD_CASES = (
    STANDING,
    LoadCase(
        "ridden_walk",
        "Walk, highest force of a stride",
        factor=GAIT_FACTORS["walk"],
        feeds=("walk",),
        short="Walk",
    ),
    LoadCase(
        "ridden_trot",
        "Rising trot, highest force of a stride",
        factor=GAIT_FACTORS["trot"],
        feeds=("trot",),
        short="Trot",
    ),
    LoadCase(
        "ridden_canter",
        "Canter, highest force of a stride",
        factor=GAIT_FACTORS["canter"],
        feeds=("canter",),
        short="Canter",
    ),
    LoadCase("rider_left", "Rider 30 mm to the left", offset_y=-ASIDE, short="Rider left"),
    LoadCase("rider_right", "Rider 30 mm to the right", offset_y=ASIDE, short="Rider right"),
    LoadCase("rider_forward", "Rider 30 mm forward", offset_x=-ASIDE, short="Rider forward"),
    LoadCase("rider_back", "Rider 30 mm back", offset_x=ASIDE, short="Rider back"),
    LoadCase(
        "bend_left",
        "Bent to the left, with rider",
        back=BackChange(bend=-BEND),
        feeds=MOVED,
        short="Bent left",
    ),
    LoadCase(
        "bend_right",
        "Bent to the right, with rider",
        back=BackChange(bend=BEND),
        feeds=MOVED,
        short="Bent right",
    ),
    LoadCase(
        "rounded",
        "Back rounded, with rider",
        back=BackChange(lift=LIFT),
        feeds=MOVED,
        short="Rounded",
    ),
    LoadCase(
        "hollowed",
        "Back hollowed, with rider",
        back=BackChange(lift=-LIFT),
        feeds=MOVED,
        short="Hollowed",
    ),
    LoadCase(
        "rope_forward",
        "Rope pulling forward and down",
        rope=Rope(heading=0.0, dip=np.radians(20.0)),
        feeds=(*MOVED, "rope"),
        needs="rope",
        short="Rope ahead",
    ),
    LoadCase(
        "rope_rear",
        "Rope pulling to the rear",
        rope=Rope(heading=np.pi, dip=np.radians(10.0)),
        feeds=(*MOVED, "rope"),
        needs="rope",
        short="Rope behind",
    ),
    LoadCase(
        "mounting",
        "Mounting from the ground, on the left",
        has_rider=False,
        hangs=FOOT,
        feeds=MOVED,
        needs="mounting",
        short="Mounting",
    ),
    LoadCase(
        "saddle_only",
        "Saddle and girth, no rider",
        has_rider=False,
        feeds=("unridden",),
        short="No rider",
    ),
)


def cases_for(*works: str, catalogue: tuple[LoadCase, ...] = LOAD_CASES) -> tuple[LoadCase, ...]:
    """Return the load cases of every saddle and those of some works ("rope", "mounting")."""
    return tuple(case for case in catalogue if not case.needs or case.needs in works)


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


def tree_length(tree: Tree) -> float:
    """Return the longer side, tip to tip [m]."""
    if isinstance(tree, UndersideGrid):
        return float(tree.x[-1])
    if isinstance(tree, FramelessTree):
        return tree.length
    return max(tree.left.length, tree.right.length)


def forces_of(loads: Loads, tree: Tree, case: LoadCase) -> tuple[PointForce, ...]:
    """Return the forces of one load case on a tree, points behind its front tip."""
    forces = [*loads.forces, *case.forces, *(strap.force() for strap in loads.straps)]
    if loads.girth_tension > 0:
        at = loads.rigging if loads.rigging is not None else RIGGING
        forces.append(Strap(loads.girth_tension, loads.girth_angle, at).force())
    if loads.saddle_mass > 0:
        middle = (tree_length(tree) / 2, 0.0, SADDLE_HEIGHT)
        forces.append(PointForce((0.0, 0.0, -GRAVITY * loads.saddle_mass), middle, "body"))
    forces += _rider(loads, tree, case)
    if case.rope is not None and loads.rope_pull > 0:
        force = case.rope.force(loads.rope_pull)
        forces.append(PointForce(force, (horn_position(loads, tree), 0.0, loads.horn_height)))
    return tuple(forces)


def _rider(loads: Loads, tree: Tree, case: LoadCase) -> list[PointForce]:
    """Rider and gear: in the seat, or hanging at the stirrup, or not there.

    What a stride adds to the weight comes and goes too fast for the tree to tip under it, and so
    acts at the bars' own height: the stiffness -P H is that of the plain weight.
    """
    weight = GRAVITY * (loads.rider_mass + loads.gear_mass)
    if weight <= 0:
        return []
    if case.hangs is not None:
        return [PointForce((0.0, 0.0, -weight * case.factor), (tree.stirrup, case.hangs, 0.0))]
    if not case.has_rider:
        return []
    parts = (
        (tree.seat_low, 1.0 - loads.stirrup_share, "seat"),
        (tree.stirrup, loads.stirrup_share, ""),
    )
    heights = ((loads.rider_height, 1.0), (0.0, case.factor - 1.0))
    return [
        PointForce(
            (0.0, 0.0, -weight * part * factor), (x + case.offset_x, case.offset_y, height), through
        )
        for x, part, through in parts
        for height, factor in heights
        if part > 0 and factor > 0
    ]


def horn_position(loads: Loads, tree: Tree) -> float:
    """Return the horn behind the front tip [m]: as measured, or over the fork."""
    if loads.horn is not None:
        return loads.horn
    return tree.fork_from_tip if isinstance(tree, TwoBarTree) else FORK


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
    # A handful of forces: plain numbers take a fifth of the time of arrays.
    load, pitch, roll = [0.0, *moments], 0.0, 0.0
    for force, (x, y, z) in zip(forces, arms.tolist(), strict=True):
        to_rear, to_right, up = force.force
        load[0] -= up
        load[1] += to_rear * z - up * x
        load[2] += up * y - to_right * z
        pitch += up * z + to_rear * x
        roll += up * z + to_right * y
    return np.array(load), np.diag([0.0, pitch, roll])
