"""The dimensions of a tree as a form asks for them, in the order they are measured.

Hard limits block, usual ranges ask. The limits are common practice or from memory, without a
published source, and wide on purpose: there is no standard for measuring trees, which is why
every dimension says how it is taken here and keeps a note when it was taken another way.
"""

from dataclasses import dataclass

from fitting.models import TreeSpec

INCH = 25.4
Limits = tuple[float, float] | None


@dataclass(frozen=True)
class Dimension:
    """One number of a tree: group, unit of a bare number, limits, and how it is taken."""

    name: str
    group: str
    unit: str
    hard: Limits
    usual: Limits
    how: str

    @property
    def label(self) -> str:
        words = str(TreeSpec._meta.get_field(self.name).verbose_name)  # type: ignore[union-attr]
        return words[0].upper() + words[1:]


def _inches(low: float, high: float) -> tuple[float, float]:
    return (low * INCH, high * INCH)


LENGTH, WIDTHS, SPREAD = "Length", "Bar widths", "Spread and gullet"
SLOPES, SHAPE, HORN = "Slopes", "Rock, flare and crown", "Horn"

TWO_BAR = (
    Dimension(
        "bar_length_mm",
        LENGTH,
        "in",
        _inches(15, 28),
        _inches(20, 24.5),
        "Saddle upside down: feel both tips through the fleece, straight line between them.",
    ),
    Dimension(
        "bearing_length_mm",
        LENGTH,
        "in",
        _inches(10, 24),
        _inches(15, 19),
        "The part meant to carry: slide a flat card along until it rocks, at each end.",
    ),
    Dimension(
        "bar_width_front_mm",
        WIDTHS,
        "in",
        _inches(3, 8),
        _inches(5, 6.5),
        "Across the front pad at its widest, along the face.",
    ),
    Dimension(
        "bar_width_centre_mm",
        WIDTHS,
        "in",
        _inches(2, 6),
        _inches(3, 3.5),
        "Across the narrowest place in the middle.",
    ),
    Dimension(
        "bar_width_rear_mm",
        WIDTHS,
        "in",
        _inches(3, 8),
        _inches(5, 6.5),
        "Across the rear pad at its widest, along the face.",
    ),
    Dimension(
        "spread_front_mm",
        SPREAD,
        "in",
        (50, 300),
        None,
        "Between the inner edges just below the gullet, rule held across the underside.",
    ),
    Dimension(
        "spread_hand_hole_mm",
        SPREAD,
        "in",
        _inches(2.5, 7),
        _inches(3.5, 4.75),
        "Between the inner edges at the opening behind the fork.",
    ),
    Dimension(
        "spread_rear_mm",
        SPREAD,
        "in",
        (50, 300),
        None,
        "Between the inner edges under the cantle.",
    ),
    Dimension(
        "gullet_width_mm",
        SPREAD,
        "in",
        _inches(4, 10),
        _inches(5.5, 8),
        "Across the arch 2 in below its top; note any other height.",
    ),
    Dimension(
        "gullet_height_mm",
        SPREAD,
        "in",
        _inches(3, 11),
        _inches(6, 8.5),
        "Top of the arch down to a straight edge laid across the bars.",
    ),
    Dimension(
        "slope_front_left_deg",
        SLOPES,
        "°",
        (25, 60),
        (41, 48),
        "Angle finder on the left front pad, from a level line.",
    ),
    Dimension(
        "slope_front_right_deg",
        SLOPES,
        "°",
        (25, 60),
        (41, 48),
        "The same on the right. Left and right are kept apart.",
    ),
    Dimension(
        "slope_rear_left_deg",
        SLOPES,
        "°",
        (7.5, 45),
        (20, 37.5),
        "Angle finder on the left rear pad.",
    ),
    Dimension(
        "slope_rear_right_deg",
        SLOPES,
        "°",
        (7.5, 45),
        (20, 37.5),
        "The same on the right.",
    ),
    Dimension(
        "rock_mm",
        SHAPE,
        "mm",
        (-5, 50),
        (6, 22),
        "17 in straight edge along the middle of the bar face: the gap at its two ends, averaged.",
    ),
    Dimension(
        "rock_lowest_mm",
        SHAPE,
        "in",
        (0, 712),
        None,
        "How far behind the front tip the bar touches a flat table.",
    ),
    Dimension(
        "flare_front_mm",
        SHAPE,
        "mm",
        (0, 60),
        (5, 25),
        "Gap between the front tip and the line of the bar carried on straight.",
    ),
    Dimension(
        "flare_rear_mm",
        SHAPE,
        "mm",
        (0, 60),
        (5, 25),
        "The same at the rear tip.",
    ),
    Dimension(
        "crown_mm",
        SHAPE,
        "mm",
        (-3, 25),
        (2, 10),
        "Straight edge across the face: gap at the edges.",
    ),
    Dimension(
        "horn_behind_tip_mm",
        HORN,
        "in",
        _inches(0, 10),
        _inches(2, 5),
        "Middle of the horn behind the front tip, along the bar. For the pull of a rope.",
    ),
    Dimension(
        "horn_height_mm",
        HORN,
        "in",
        _inches(3, 16),
        _inches(6, 11),
        "Straight edge across the bars under the fork, up to where the rope holds on the horn.",
    ),
)

FLEX, SET = "Bending test", "Does it return?"

FLEXES = (
    Dimension(
        "flex_span_mm",
        FLEX,
        "in",
        (150, 600),
        (300, 500),
        "Rest the bar on two blocks, underside down: the distance between the blocks.",
    ),
    Dimension(
        "flex_load_kg",
        FLEX,
        "kg",
        (0.5, 100),
        (2, 40),
        "Hang a weight you know at the middle between them: a bucket of water, 10 litres, is 10 kg"
        " and its own weight.",
    ),
    Dimension(
        "flex_left_mm",
        FLEX,
        "mm",
        (0.1, 100),
        (1, 40),
        "Rule at the middle, before and under the weight: how far the left bar went down.",
    ),
    Dimension("flex_right_mm", FLEX, "mm", (0.1, 100), (1, 40), "The same for the right bar."),
    Dimension(
        "set_left_mm",
        SET,
        "mm",
        (-30, 30),
        (-2, 2),
        "Flex the saddle both ways, let go, lay the 17 in straight edge along the left bar again:"
        " the gap now less the rock above. Ends stay up: plus. Ends stay down: minus.",
    ),
    Dimension("set_right_mm", SET, "mm", (-30, 30), (-2, 2), "The same for the right bar."),
)

BODY = "Body"

FRAMELESS = (
    Dimension(
        "body_length_mm",
        BODY,
        "in",
        (300, 750),
        (400, 600),
        "Tape on the underside, from where it first lies on the back to where it ends.",
    ),
    Dimension(
        "body_width_mm",
        BODY,
        "in",
        (80, 350),
        (140, 260),
        "One side: from the edge beside the spine, round the curve, to where padding ends.",
    ),
    Dimension(
        "body_thickness_mm",
        BODY,
        "mm",
        (3, 100),
        (10, 40),
        "Callipers under the seat, seat and panel together, pressed by hand.",
    ),
    Dimension(
        "body_channel_mm",
        BODY,
        "mm",
        (0, 140),
        (20, 90),
        "Between the two sides along the spine, saddle on the horse; 0 where there is none.",
    ),
)

HEAD, PANELS, DEPTH, CHANNEL = "Head", "Panel length and width", "Panel depth", "Channel and rear"

PANELLED = (
    Dimension(
        "head_width_mm",
        HEAD,
        "cm",
        (150, 480),
        (240, 360),
        "Callipers between the two tree points at their ends. Nail to nail? Say so in the note.",
    ),
    Dimension(
        "head_angle_deg",
        HEAD,
        "°",
        (50, 140),
        (75, 110),
        "Angle finder on the front of both points: the angle between them.",
    ),
    Dimension(
        "panel_length_mm",
        PANELS,
        "cm",
        (250, 620),
        (400, 520),
        "Tape on the underside, from front to rear contact.",
    ),
    Dimension(
        "panel_width_front_mm",
        PANELS,
        "cm",
        (40, 220),
        (90, 150),
        "Bearing width of one panel, near the front.",
    ),
    Dimension(
        "panel_width_middle_mm", PANELS, "cm", (40, 220), (90, 150), "The same in the middle."
    ),
    Dimension("panel_width_rear_mm", PANELS, "cm", (40, 220), (90, 150), "The same near the rear."),
    Dimension(
        "panel_depth_front_mm",
        DEPTH,
        "cm",
        (5, 120),
        (20, 60),
        "Callipers with the saddle upright: thickness of the panel in front.",
    ),
    Dimension("panel_depth_middle_mm", DEPTH, "cm", (5, 120), (20, 60), "The same in the middle."),
    Dimension("panel_depth_rear_mm", DEPTH, "cm", (5, 120), (20, 60), "The same at the rear."),
    Dimension(
        "gusset_rear_mm", DEPTH, "cm", (0, 80), (0, 40), "Height of the rear gusset; 0 for none."
    ),
    Dimension(
        "channel_front_mm",
        CHANNEL,
        "cm",
        (20, 140),
        (60, 90),
        "Gap between the panels in front; a little wider there is good.",
    ),
    Dimension("channel_middle_mm", CHANNEL, "cm", (20, 140), (60, 90), "The same in the middle."),
    Dimension("channel_rear_mm", CHANNEL, "cm", (20, 140), (60, 90), "The same at the rear."),
    Dimension(
        "panel_rock_mm",
        CHANNEL,
        "mm",
        (-5, 50),
        (0, 22),
        "17 in straight edge along the panel: the gap at its two ends, averaged.",
    ),
    Dimension(
        "rear_angle_deg",
        CHANNEL,
        "°",
        (90, 165),
        (105, 140),
        "Angle between the two panel faces near the rear.",
    ),
)

DIMENSIONS = {
    TreeSpec.Kind.TWO_BAR.value: TWO_BAR,
    TreeSpec.Kind.PANELLED.value: PANELLED,
    TreeSpec.Kind.FLEXIBLE.value: (*TWO_BAR, *FLEXES),
    TreeSpec.Kind.FRAMELESS.value: FRAMELESS,
}


def grouped(dimensions: tuple[Dimension, ...]) -> dict[str, list[Dimension]]:
    groups: dict[str, list[Dimension]] = {}
    for dimension in dimensions:
        groups.setdefault(dimension.group, []).append(dimension)
    return groups
