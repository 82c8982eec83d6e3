"""Tree, saddle, pad and rider records become the engine's tree, layers and loads."""

import math
from dataclasses import replace

from fitting.adapters.gathering import Gathering
from fitting.adapters.giving_trees import flexible_tree, frameless_tree
from fitting.engine import (
    PAD_KINDS,
    Bar,
    FramelessTree,
    Layers,
    Loads,
    Panel,
    PanelTree,
    Shims,
    TwoBarTree,
    default_layers,
    pad_layer,
    rigging_position,
)
from fitting.models import Pad, Pairing, Saddle, TreeSpec
from horses.models import BackMeasurement
from horses.weight import tape_mass_kg

MM = 1e-3
SIDES = ("left", "right")
Tree = TwoBarTree | PanelTree | FramelessTree
EDGE_RADIUS_MM = {"": 5.0, "none": 0.0, "some": 5.0, "good": 10.0}
FORK_BEHIND_TIP_MM = 75.0
RIGGING_BEHIND_TIP_MM = 125.0
# Middle of common practice: 14-23 kg western, 6-10 kg English, a little less without a tree.
SADDLE_MASS_KG = {
    TreeSpec.Kind.TWO_BAR: 17.0,
    TreeSpec.Kind.PANELLED: 8.0,
    TreeSpec.Kind.FLEXIBLE: 12.0,
    TreeSpec.Kind.FRAMELESS: 6.0,
}
NOT_MEASURED = "not measured"


def _edge_radius(tree: TreeSpec, account: Gathering) -> float:
    radius = EDGE_RADIUS_MM[tree.relief]
    words = tree.get_relief_display().lower() if tree.relief else NOT_MEASURED
    account.supposed("Rounding of the bars' edges", f"{radius:g} mm radius", f"relief: {words}")
    return radius * MM


def _bars(tree: TreeSpec, account: Gathering) -> tuple[Bar, Bar]:
    need = {
        name: account.need(tree, f"{name}_mm") * MM
        for name in (
            "bar_length",
            "bearing_length",
            "bar_width_front",
            "bar_width_centre",
            "bar_width_rear",
            "rock",
        )
    }
    flat = {
        name: account.assume(tree, f"{name}_mm", 0.0, taken="0 mm", why=NOT_MEASURED) * MM
        for name in ("flare_front", "flare_rear", "crown")
    }
    lowest = account.note(tree, "rock_lowest_mm")
    edge = _edge_radius(tree, account)
    slopes = {
        side: [
            math.radians(account.need(tree, f"slope_{end}_{side}_deg")) for end in ("front", "rear")
        ]
        for side in SIDES
    }
    left = Bar(
        length=need["bar_length"],
        bearing_length=need["bearing_length"],
        width_front=need["bar_width_front"],
        width_centre=need["bar_width_centre"],
        width_rear=need["bar_width_rear"],
        slope_front=slopes["left"][0],
        slope_rear=slopes["left"][1],
        rock=need["rock"],
        rock_low=None if lowest is None else lowest * MM,
        flare_front=flat["flare_front"],
        flare_rear=flat["flare_rear"],
        crown=flat["crown"],
        edge_relief=edge,
    )
    return left, replace(left, slope_front=slopes["right"][0], slope_rear=slopes["right"][1])


def _optional(tree: TreeSpec, name: str, account: Gathering) -> float | None:
    value = account.note(tree, name)
    return None if value is None else value * MM


def _two_bar_tree(saddle: Saddle, tree: TreeSpec, account: Gathering) -> TwoBarTree:
    left, right = _bars(tree, account)
    stirrup = account.need(saddle, "stirrup_behind_tip_mm")
    seat = stirrup + account.need(saddle, "stirrup_ahead_of_seat_mm")
    return TwoBarTree(
        left=left,
        right=right,
        spread_hand_hole=account.need(tree, "spread_hand_hole_mm") * MM,
        spread_front=_optional(tree, "spread_front_mm", account),
        spread_rear=_optional(tree, "spread_rear_mm", account),
        gullet_width=_optional(tree, "gullet_width_mm", account),
        gullet_height=_optional(tree, "gullet_height_mm", account),
        seat_low=seat * MM,
        stirrup=stirrup * MM,
        fork_from_tip=_fork_mm(saddle, account) * MM,
    )


def _fork_mm(saddle: Saddle, account: Gathering) -> float:
    return account.assume(
        saddle,
        "fork_behind_tip_mm",
        FORK_BEHIND_TIP_MM,
        taken="75 mm",
        why=NOT_MEASURED,
    )


def _panel(tree: TreeSpec, account: Gathering) -> Panel:
    depths = {
        name: account.assume(tree, f"panel_depth_{name}_mm", 30.0, taken="30 mm", why=NOT_MEASURED)
        * MM
        for name in ("front", "middle", "rear")
    }
    head = account.need(tree, "head_angle_deg")
    rear = account.note(tree, "rear_angle_deg")
    if rear is None:
        account.supposed(
            "Slope of the panel's rear",
            "15 degrees flatter than the head",
            "not measured; low end of common practice (15-30)",
        )
    account.supposed("Roundness across the panel", "8 mm", "filled panels are round; not measured")
    rock = account.need(tree, "panel_rock_mm")
    length = account.need(tree, "panel_length_mm")
    return Panel(
        length=length * MM,
        width_front=account.need(tree, "panel_width_front_mm") * MM,
        width_middle=account.need(tree, "panel_width_middle_mm") * MM,
        width_rear=account.need(tree, "panel_width_rear_mm") * MM,
        depth_front=depths["front"],
        depth_middle=depths["middle"],
        depth_rear=depths["rear"],
        slope_front=math.radians((180.0 - head) / 2),
        slope_rear=None if rear is None else math.radians((180.0 - rear) / 2),
        rock=_over_whole_panel(rock, length) * MM,
    )


def _over_whole_panel(rock_mm: float, length_mm: float, *, chord_mm: float = 431.8) -> float:
    """Turn a sagitta read over 17 in into one over the whole panel (a parabola in both cases)."""
    return rock_mm * (length_mm / chord_mm) ** 2


def _panel_seat_mm(saddle: Saddle, tree: TreeSpec, account: Gathering) -> tuple[float, float]:
    """Return seat low point and stirrup bar behind the front of the panel [mm]."""
    stirrup = account.note(saddle, "stirrup_behind_tip_mm")
    ahead = account.need(saddle, "stirrup_ahead_of_seat_mm")
    if stirrup is not None:
        return stirrup + ahead, stirrup
    seat = (tree.panel_length_mm or math.nan) / 2
    account.supposed(
        "Low point of the seat",
        "the middle of the panel",
        "stirrup bar's place not measured; a good seat is deepest about its centre",
    )
    return seat, seat - ahead


def _panel_tree(saddle: Saddle, tree: TreeSpec, account: Gathering) -> PanelTree:
    panel = _panel(tree, account)
    seat, stirrup = _panel_seat_mm(saddle, tree, account)
    return PanelTree(
        left=panel,
        right=panel,
        channel_front=account.need(tree, "channel_front_mm") * MM,
        channel_middle=account.need(tree, "channel_middle_mm") * MM,
        channel_rear=account.need(tree, "channel_rear_mm") * MM,
        seat_low=seat * MM,
        stirrup=stirrup * MM,
        head_width=_optional(tree, "head_width_mm", account),
        gullet_height=_optional(tree, "gullet_height_mm", account),
    )


def tree_of(saddle: Saddle, account: Gathering) -> Tree | None:
    """Return the underside of a saddle's tree [m, rad], or None when it has no tree."""
    if saddle.tree is None:
        account.lacks(f"The tree of saddle {saddle.tag}", saddle)
        return None
    if saddle.tree.kind == TreeSpec.Kind.PANELLED:
        return _panel_tree(saddle, saddle.tree, account)
    if saddle.tree.kind == TreeSpec.Kind.FRAMELESS:
        return frameless_tree(saddle, saddle.tree, account)
    stiff = _two_bar_tree(saddle, saddle.tree, account)
    if saddle.tree.kind == TreeSpec.Kind.FLEXIBLE:
        return flexible_tree(stiff, saddle, saddle.tree, account)
    return stiff


def _pad_thickness(pad: Pad | None, account: Gathering) -> float:
    if pad is None:
        account.supposed("Pad", "none", "no pad is named in the pairing")
        return 0.0
    thickness = account.need(pad, "thickness_mm")
    account.entered("Pad", "Material", pad.get_material_display())
    kind = PAD_KINDS[pad.material]
    taken = f"{kind.at_quarter / 1e3:g} kPa at 25 % and {kind.at_half / 1e3:g} kPa at 50 % of it"
    account.supposed("Give of the pad", taken, kind.source)
    return thickness


def layers_of(pairing: Pairing, account: Gathering) -> Layers:
    """Return tissue, pad, flock and shims [m, Pa]."""
    pad_mm = _pad_thickness(pairing.pad, account)
    tree = pairing.saddle.tree
    flock_mm = 0.0
    if tree is not None and tree.kind == TreeSpec.Kind.PANELLED:
        depths = [tree.panel_depth_front_mm, tree.panel_depth_middle_mm, tree.panel_depth_rear_mm]
        flock_mm = sum(30.0 if d is None else d for d in depths) / 3
        account.supposed("Give of the panels", "wool flock of their depth", "assumption")
    layers = default_layers(pad_thickness=pad_mm * MM, flock_thickness=flock_mm * MM)
    if pairing.pad is not None and pad_mm > 0:
        layers = replace(layers, pad=pad_layer(pairing.pad.material, thickness=pad_mm * MM))
    account.supposed(
        "Give of the back",
        f"{layers.tissue.modulus_per_area * 1e-6:.1f} kPa for each mm at first touch, stiffening",
        "no measurement of a horse's back is published; human muscle stands in",
    )
    shims = {
        f"{side}_{end}": (account.note(pairing, f"shim_{end}_{side}_mm") or 0.0) * MM
        for end in ("front", "rear")
        for side in SIDES
    }
    return replace(layers, shims=Shims(**shims))


def _rigging(saddle: Saddle, account: Gathering) -> float:
    between = account.note(saddle, "fork_to_cantle_mm")
    if not saddle.rigging or between is None:
        account.supposed(
            "Girth behind the front tip",
            f"{RIGGING_BEHIND_TIP_MM:.0f} mm",
            "rigging not measured",
            value=RIGGING_BEHIND_TIP_MM,
            unit="mm",
        )
        return RIGGING_BEHIND_TIP_MM * MM
    account.entered("Saddle", "Rigging", saddle.get_rigging_display())
    fork = saddle.fork_behind_tip_mm
    return rigging_position(
        fraction=float(saddle.rigging),
        fork_to_cantle=between * MM,
        fork_from_tip=(FORK_BEHIND_TIP_MM if fork is None else fork) * MM,
    )


def _saddle_mass(saddle: Saddle, account: Gathering) -> float:
    kind = saddle.tree.kind if saddle.tree else TreeSpec.Kind.TWO_BAR
    usual = SADDLE_MASS_KG[TreeSpec.Kind(kind)]
    why = "not weighed; middle of common practice"
    return account.assume(saddle, "mass_kg", usual, taken=f"{usual:g} kg", why=why)


def loads_of(pairing: Pairing, account: Gathering) -> Loads:
    """Return what the back carries [kg, N, m]."""
    rider_mass = math.nan
    if pairing.rider is None:
        account.lacks("The rider of this pairing", pairing)
    else:
        rider_mass = account.need(pairing.rider, "mass_kg", is_private=True)
    loads = Loads(
        rider_mass=rider_mass,
        saddle_mass=_saddle_mass(pairing.saddle, account),
        gear_mass=account.assume(pairing, "gear_mass_kg", 0.0, taken="none", why="not entered"),
        rigging=_rigging(pairing.saddle, account),
    )
    why = "not measured at a visit; the engine's stated default"
    account.supposed("Girth tension", f"{loads.girth_tension:.0f} N on each side", why)
    account.supposed(
        "Height of the rider's weight above the bars",
        f"{loads.rider_height * 100:.0f} cm",
        why,
        value=loads.rider_height / MM,
        unit="mm",
    )
    share = f"{loads.stirrup_share * 100:.0f} %"
    account.supposed("Share of the rider in the stirrups", share, why)
    return loads


def horse_mass_of(measurement: BackMeasurement, account: Gathering) -> float | None:
    """Return the horse's mass [kg]: from a scale, else from the tape."""
    scale = account.note(measurement, "scale_mass_kg")
    if scale is not None:
        return scale
    girth = account.note(measurement, "girth_mm")
    length = account.note(measurement, "length_mm")
    if girth is None or length is None:
        account.supposed(
            "Weight of the horse", "not known", "neither weighed nor girth and length measured"
        )
        return None
    mass = tape_mass_kg(girth_mm=girth, length_mm=length)
    account.supposed(
        "Weight of the horse",
        f"{mass:.0f} kg",
        "from girth and length (Carroll and Huntington 1988), about 5 % either way",
        value=mass,
        unit="kg",
    )
    return mass
