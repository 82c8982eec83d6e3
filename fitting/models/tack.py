"""What goes on the back: trees, saddles and pads. Dimensions belong to the horse's side."""

from django.db import models
from simple_history.models import HistoricalRecords

from horses.models.base import TypedRecord, range_check


class TreeSpec(TypedRecord):
    """The shape a saddle shows the horse. Several saddles may share one tree.

    Every value is one of *our* measurements (see `methods`): there is no industry standard for
    western trees, so a number without its method means little.
    """

    class Kind(models.TextChoices):
        TWO_BAR = "two_bar", "Two bars (western, stock)"
        PANELLED = "panelled", "Panels (English, baroque, stock)"
        FLEXIBLE = "flexible", "Two bars that bend"
        FRAMELESS = "frameless", "Body without a tree (treeless)"

    class Relief(models.TextChoices):
        NONE = "none", "None"
        SOME = "some", "Some"
        GOOD = "good", "Good"

    class State(models.TextChoices):
        MEASURED = "measured", "Measured"
        ORDERED = "ordered", "As ordered"
        DELIVERED = "delivered", "As delivered"
        WANTED = "wanted", "Wanted"

    tag = models.CharField("our tag", max_length=20)
    kind = models.CharField(max_length=9, choices=Kind)
    state = models.CharField(
        "where the numbers come from", max_length=9, choices=State, default=State.MEASURED
    )
    measured_on = models.DateField(null=True, blank=True)

    # Two bars
    bar_length_mm = models.FloatField("bar length, tip to tip", null=True, blank=True)
    bearing_length_mm = models.FloatField("weight-bearing length", null=True, blank=True)
    bar_width_front_mm = models.FloatField("bar width, front pad", null=True, blank=True)
    bar_width_centre_mm = models.FloatField("bar width, centre", null=True, blank=True)
    bar_width_rear_mm = models.FloatField("bar width, rear pad", null=True, blank=True)
    spread_front_mm = models.FloatField("spread, front", null=True, blank=True)
    spread_hand_hole_mm = models.FloatField("spread, hand hole", null=True, blank=True)
    spread_rear_mm = models.FloatField("spread, rear", null=True, blank=True)
    gullet_width_mm = models.FloatField("gullet width", null=True, blank=True)
    gullet_height_mm = models.FloatField("gullet height", null=True, blank=True)
    slope_front_left_deg = models.FloatField("front slope, left", null=True, blank=True)
    slope_front_right_deg = models.FloatField("front slope, right", null=True, blank=True)
    slope_rear_left_deg = models.FloatField("rear slope, left", null=True, blank=True)
    slope_rear_right_deg = models.FloatField("rear slope, right", null=True, blank=True)
    rock_mm = models.FloatField("rock over 17 in", null=True, blank=True)
    rock_lowest_mm = models.FloatField("rock lowest behind front tip", null=True, blank=True)
    flare_front_mm = models.FloatField("flare, front", null=True, blank=True)
    flare_rear_mm = models.FloatField("flare, rear", null=True, blank=True)
    crown_mm = models.FloatField("crown", null=True, blank=True)
    relief = models.CharField("edge relief", max_length=4, choices=Relief, blank=True)
    horn_behind_tip_mm = models.FloatField("horn behind front tip", null=True, blank=True)
    horn_height_mm = models.FloatField("horn above the bars", null=True, blank=True)

    # Panels
    head_width_mm = models.FloatField("head width at the points", null=True, blank=True)
    head_angle_deg = models.FloatField("head angle, included", null=True, blank=True)
    panel_length_mm = models.FloatField("panel length", null=True, blank=True)
    panel_width_front_mm = models.FloatField("panel width, front", null=True, blank=True)
    panel_width_middle_mm = models.FloatField("panel width, middle", null=True, blank=True)
    panel_width_rear_mm = models.FloatField("panel width, rear", null=True, blank=True)
    panel_depth_front_mm = models.FloatField("panel depth, front", null=True, blank=True)
    panel_depth_middle_mm = models.FloatField("panel depth, middle", null=True, blank=True)
    panel_depth_rear_mm = models.FloatField("panel depth, rear", null=True, blank=True)
    channel_front_mm = models.FloatField("channel, front", null=True, blank=True)
    channel_middle_mm = models.FloatField("channel, middle", null=True, blank=True)
    channel_rear_mm = models.FloatField("channel, rear", null=True, blank=True)
    gusset_rear_mm = models.FloatField("rear gusset", null=True, blank=True)
    panel_rock_mm = models.FloatField("panel rock over 17 in", null=True, blank=True)
    rear_angle_deg = models.FloatField("rear angle, included", null=True, blank=True)

    # Two bars that bend
    flex_span_mm = models.FloatField("span of the bending test", null=True, blank=True)
    flex_load_kg = models.FloatField("weight hung on the bar", null=True, blank=True)
    flex_left_mm = models.FloatField("bending under it, left", null=True, blank=True)
    flex_right_mm = models.FloatField("bending under it, right", null=True, blank=True)
    set_left_mm = models.FloatField("kept after flexing, left bar", null=True, blank=True)
    set_right_mm = models.FloatField("kept after flexing, right bar", null=True, blank=True)

    # No tree
    body_length_mm = models.FloatField("body, front to rear", null=True, blank=True)
    body_width_mm = models.FloatField("body, width of one side", null=True, blank=True)
    body_thickness_mm = models.FloatField("body, thickness under the seat", null=True, blank=True)
    body_channel_mm = models.FloatField("body, gap along the spine", null=True, blank=True)

    methods = models.JSONField("how each value was measured", default=dict, blank=True)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("tag", "pk")
        constraints = (
            models.UniqueConstraint(fields=("tag",), name="tree_tag_is_ours_and_unique"),
            models.CheckConstraint(
                condition=models.Q(bearing_length_mm__isnull=True)
                | models.Q(bar_length_mm__isnull=True)
                | models.Q(bearing_length_mm__lte=models.F("bar_length_mm")),
                name="bearing_length_within_bar_length",
            ),
            range_check("tree", "bar_length_mm", 381, 712),
            range_check("tree", "bearing_length_mm", 254, 610),
            range_check("tree", "bar_width_front_mm", 76, 204),
            range_check("tree", "bar_width_centre_mm", 50, 153),
            range_check("tree", "bar_width_rear_mm", 76, 204),
            range_check("tree", "spread_hand_hole_mm", 63, 178),
            range_check("tree", "gullet_width_mm", 101, 254),
            range_check("tree", "gullet_height_mm", 76, 280),
            range_check("tree", "slope_front_left_deg", 25, 60),
            range_check("tree", "slope_front_right_deg", 25, 60),
            range_check("tree", "slope_rear_left_deg", 7.5, 45),
            range_check("tree", "slope_rear_right_deg", 7.5, 45),
            range_check("tree", "rock_mm", -5, 50),
            range_check("tree", "flare_front_mm", 0, 60),
            range_check("tree", "flare_rear_mm", 0, 60),
            range_check("tree", "crown_mm", -3, 25),
            range_check("tree", "horn_behind_tip_mm", 0, 255),
            range_check("tree", "horn_height_mm", 76, 407),
            range_check("tree", "head_width_mm", 150, 480),
            range_check("tree", "head_angle_deg", 50, 140),
            range_check("tree", "panel_length_mm", 250, 620),
            range_check("tree", "panel_rock_mm", -5, 50),
            range_check("tree", "flex_span_mm", 150, 600),
            range_check("tree", "flex_load_kg", 0.5, 100),
            range_check("tree", "flex_left_mm", 0.1, 100),
            range_check("tree", "flex_right_mm", 0.1, 100),
            range_check("tree", "set_left_mm", -30, 30),
            range_check("tree", "set_right_mm", -30, 30),
            range_check("tree", "body_length_mm", 300, 750),
            range_check("tree", "body_width_mm", 80, 350),
            range_check("tree", "body_thickness_mm", 3, 100),
            range_check("tree", "body_channel_mm", 0, 140),
        )

    def __str__(self) -> str:
        return self.tag


class Saddle(TypedRecord):
    """One saddle with the practice's own tag. The maker's words are free text and not used."""

    class Kind(models.TextChoices):
        RANCH = "ranch", "Ranch or roper"
        WESTERN = "western", "Western stock"
        REINING = "reining", "Cutting or reining"
        TRAIL = "trail", "Trail or endurance"
        GENERAL = "general", "English general purpose"
        DRESSAGE = "dressage", "Dressage"
        JUMPING = "jumping", "Jumping"
        BAROQUE = "baroque", "Baroque"
        STOCK = "stock", "Australian stock"
        MILITARY = "military", "Military"
        SIDE = "side", "Side-saddle"
        PACK = "pack", "Pack"

    class Rigging(models.TextChoices):
        FULL = "1", "Full"
        SEVEN_EIGHTHS = "0.875", "7/8"
        THREE_QUARTERS = "0.75", "3/4"
        FIVE_EIGHTHS = "0.625", "5/8"
        CENTRE = "0.5", "Centre-fire"

    tag = models.CharField("our tag", max_length=20, unique=True)
    kind = models.CharField(max_length=9, choices=Kind)
    tree = models.ForeignKey(
        TreeSpec, models.PROTECT, null=True, blank=True, related_name="saddles"
    )
    owner = models.ForeignKey(
        "practice.Client", models.SET_NULL, null=True, blank=True, related_name="saddles"
    )
    maker_words = models.CharField("what is written on it", max_length=120, blank=True)
    seat_size_mm = models.FloatField("seat size", null=True, blank=True)
    mass_kg = models.FloatField("weight with girth and stirrups", null=True, blank=True)
    rigging = models.CharField("rigging position", max_length=5, choices=Rigging, blank=True)
    fork_to_cantle_mm = models.FloatField("fork centre to cantle centre", null=True, blank=True)
    fork_behind_tip_mm = models.FloatField("fork centre behind front tip", null=True, blank=True)
    stirrup_behind_tip_mm = models.FloatField("stirrup behind front tip", null=True, blank=True)
    stirrup_ahead_of_seat_mm = models.FloatField(
        "stirrup ahead of seat low point", null=True, blank=True
    )
    skirt_length_mm = models.FloatField("skirt length", null=True, blank=True)
    panel_fill = models.CharField(max_length=40, blank=True)
    is_retired = models.BooleanField(default=False)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("tag",)
        constraints = (
            range_check("saddle", "seat_size_mm", 228, 534),
            range_check("saddle", "mass_kg", 2.2, 34.1),
            range_check("saddle", "stirrup_ahead_of_seat_mm", -77, 305),
            range_check("saddle", "skirt_length_mm", 380, 915),
        )

    def __str__(self) -> str:
        return self.tag

    @property
    def horse_side_key(self) -> tuple[int | None, str, float | None]:
        """What the horse can tell apart: tree, rigging position and stirrup position."""
        return (self.tree_id, self.rigging, self.stirrup_behind_tip_mm)

    @property
    def rigging_behind_fork_mm(self) -> float | None:
        """Distance behind the fork line x = (1 - f) d (common practice, no source)."""
        if not self.rigging or self.fork_to_cantle_mm is None:
            return None
        return (1 - float(self.rigging)) * self.fork_to_cantle_mm


class Pad(TypedRecord):
    """The layer between saddle and back."""

    class Material(models.TextChoices):
        FELT = "felt", "Felt"
        WOOL = "wool", "Woven wool"
        FLEECE = "fleece", "Fleece"
        FOAM_CLOSED = "foam_closed", "Closed-cell foam"
        FOAM_OPEN = "foam_open", "Open-cell foam"
        GEL = "gel", "Gel"
        COTTON = "cotton", "Cotton"

    name = models.CharField(max_length=80)
    material = models.CharField(max_length=11, choices=Material)
    thickness_new_mm = models.FloatField("thickness when new", null=True, blank=True)
    thickness_mm = models.FloatField("thickness now")
    is_shaped = models.BooleanField("shaped along the spine", default=False)
    is_retired = models.BooleanField(default=False)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("name",)
        constraints = (
            range_check("pad", "thickness_new_mm", 0, 60),
            range_check("pad", "thickness_mm", 0, 60),
        )

    def __str__(self) -> str:
        return f"{self.name}, {self.thickness_mm:.0f} mm"
