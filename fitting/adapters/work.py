"""What a pairing is used for: which load cases belong to it, and how hard its rope pulls."""

from dataclasses import replace

from fitting.adapters.gathering import Gathering
from fitting.engine import DRAUGHT, GRAVITY, LoadCase, Loads, cases_for
from fitting.models import Pairing, TreeSpec

MM = 1e-3
# What the engine makes of a back in motion, for every evaluation to say.
MOTION = (
    (
        "Bend to a side",
        "8° over 17 in",
        "half the swing of a walking back; the muscle on the inside bulges as much as it shortens",
    ),
    (
        "Back rounded and hollowed",
        "20 mm up and down at the loin",
        "between half the swing at trot and at walk; it comes from the loin",
    ),
)


def cases_of(pairing: Pairing, account: Gathering) -> tuple[LoadCase, ...]:
    """Return the load cases of a pairing's work, and enter what they rest on."""
    works = []
    if pairing.ropes:
        account.entered("Pairing", "Pulls on the horn", "yes")
        works.append("rope")
    if pairing.mounts_from_ground:
        account.entered("Pairing", "Mounted from the ground", "yes")
        account.supposed(
            "Weight of a mounting rider",
            "10 cm to the left of the midline",
            "the hands on horn and mane take part of it; not measured",
        )
        works.append("mounting")
    for what, taken, why in MOTION:
        account.supposed(what, taken, why)
    return cases_for(*works)


def with_rope(
    loads: Loads, pairing: Pairing, horse_mass: float | None, account: Gathering
) -> Loads:
    """Return the loads with the rope of a pairing that pulls on the horn [N, m]."""
    tree = pairing.saddle.tree
    if not pairing.ropes or tree is None:
        return loads
    pull = loads.rope_pull if horse_mass is None else DRAUGHT * GRAVITY * horse_mass
    account.supposed(
        "Pull of the rope",
        f"{pull:.0f} N",
        "a tenth of the horse's weight, a sustained draught; no pull of a rope is published, and a "
        "calf stopped short pulls several times that for a moment",
    )
    return replace(
        loads,
        rope_pull=pull,
        horn=_horn(tree, account),
        horn_height=account.assume(
            tree,
            "horn_height_mm",
            loads.horn_height / MM,
            taken=f"{loads.horn_height / MM:.0f} mm",
            why="not measured",
        )
        * MM,
    )


def _horn(tree: TreeSpec, account: Gathering) -> float | None:
    behind = account.note(tree, "horn_behind_tip_mm")
    if behind is None:
        account.supposed("Horn behind front tip", "over the fork", "not measured")
    return None if behind is None else behind * MM
