"""The back as measured on one day: body, landmarks, sections and lengthwise profiles."""

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

from horses.models.base import Record, Side, TypedRecord, range_check
from horses.models.horse import Horse


class BackMeasurement(TypedRecord):
    """One measuring of one horse; the conditions that make it comparable are part of it."""

    class Method(models.TextChoices):
        CURVE = "curve", "Flexible curve, traced"
        GAUGE = "gauge", "Profile gauge"
        PHOTO = "photo", "Photo with scale"
        SCAN = "scan", "3D scan"
        ESTIMATE = "estimate", "Estimate"

    class Head(models.TextChoices):
        LOW = "low", "Low"
        NORMAL = "normal", "Normal"
        HIGH = "high", "High"

    class Ground(models.TextChoices):
        CONCRETE = "concrete", "Concrete"
        DIRT = "dirt", "Packed dirt"
        SAND = "sand", "Sand"
        SLOPE = "slope", "Slope"

    class Coat(models.TextChoices):
        SUMMER = "summer", "Summer"
        WINTER = "winter", "Winter"
        CLIPPED = "clipped", "Clipped"

    class Work(models.TextChoices):
        """Before and after exercise are never mixed in one trend."""

        BEFORE = "before", "Not ridden that day"
        AFTER = "after", "After work"

    horse = models.ForeignKey(Horse, models.CASCADE, related_name="measurements")
    visit = models.ForeignKey(
        "practice.Visit", models.SET_NULL, null=True, blank=True, related_name="measurements"
    )
    measured_on = models.DateField()
    examiner = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    method = models.CharField(max_length=8, choices=Method, default=Method.CURVE)

    # How the horse stood
    stood_square = models.BooleanField(null=True, blank=True)
    rested_hind_foot = models.BooleanField(null=True, blank=True)
    restless = models.BooleanField(null=True, blank=True)
    head = models.CharField("head height", max_length=6, choices=Head, blank=True)
    ground = models.CharField(max_length=8, choices=Ground, blank=True)
    coat = models.CharField(max_length=7, choices=Coat, blank=True)
    work = models.CharField("work that day", max_length=6, choices=Work, blank=True)
    temperature_c = models.FloatField("temperature", null=True, blank=True)

    # Body
    girth_mm = models.FloatField("heart girth", null=True, blank=True)
    length_mm = models.FloatField("body length, shoulder to buttock", null=True, blank=True)
    height_mm = models.FloatField("height at the withers", null=True, blank=True)
    croup_over_withers_mm = models.FloatField("croup above withers", null=True, blank=True)
    scale_mass_kg = models.FloatField("weight on a scale", null=True, blank=True)
    condition_score = models.PositiveSmallIntegerField(
        "body condition, 1-9",
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(9)],
    )
    muscle_score = models.PositiveSmallIntegerField(
        "muscle, 1-5",
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(5)],
    )
    hollow_left_mm = models.FloatField("hollow behind the blade, left", null=True, blank=True)
    hollow_right_mm = models.FloatField("hollow behind the blade, right", null=True, blank=True)
    girth_groove_mm = models.FloatField("girth groove behind the blade", null=True, blank=True)

    # Lengths along the back from the rear edge of the more rearward blade
    support_length_mm = models.FloatField(
        "support length, blade to last rib", null=True, blank=True
    )

    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        # On one day a visit's own measuring comes before a scan set beside it.
        ordering = ("-measured_on", models.F("visit").desc(nulls_last=True), "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("horse", "visit"), name="one_measurement_per_horse_and_visit"
            ),
            range_check("measurement", "girth_mm", 762, 2794),
            range_check("measurement", "length_mm", 635, 2413),
            range_check("measurement", "height_mm", 610, 2134),
            range_check("measurement", "croup_over_withers_mm", -127, 153),
            range_check("measurement", "scale_mass_kg", 45, 1320),
            range_check("measurement", "condition_score", 1, 9),
            range_check("measurement", "muscle_score", 1, 5),
            range_check("measurement", "hollow_left_mm", 0, 50),
            range_check("measurement", "hollow_right_mm", 0, 50),
            range_check("measurement", "girth_groove_mm", 0, 305),
            range_check("measurement", "support_length_mm", 254, 712),
            range_check("measurement", "temperature_c", -35, 50),
        )

    def __str__(self) -> str:
        return f"{self.horse} {self.measured_on:%Y-%m-%d}"

    @property
    def quality_problems(self) -> list[str]:
        """Return, in plain words, what makes this measuring hard to compare."""
        said = {
            "not standing square": self.stood_square is False,
            "a hind foot was rested": self.rested_hind_foot is True,
            "restless": self.restless is True,
            "head not at normal height": self.head in {self.Head.LOW, self.Head.HIGH},
            "sloping ground": self.ground == self.Ground.SLOPE,
            "estimated": self.method == self.Method.ESTIMATE,
        }
        return [words for words, is_so in said.items() if is_so]

    @property
    def is_poor(self) -> bool:
        return bool(self.quality_problems)


class Station(models.TextChoices):
    """Places along the back where a cross-section is taken."""

    S1 = "S1", "S1 front"
    S2 = "S2", "S2 front of bar"
    S3 = "S3", "S3 middle"
    S4 = "S4", "S4 rear of bar"
    S5 = "S5", "S5 end of support"


# Distance behind the blade in mm; S5 is half an inch ahead of the last rib of this horse.
STATION_DISTANCE_MM = {"S1": 38.1, "S2": 139.7, "S3": 241.3, "S4": 342.9}
S5_AHEAD_OF_LAST_RIB_MM = 12.7
DEPTHS_MM = (0, 10, 20, 30, 50, 80, 100, 120, 150)


class ProfileMethod(models.TextChoices):
    """How the numbers of a profile came in."""

    TYPED = "typed", "Typed"
    TRACING = "tracing", "Photo of tracing"
    SCAN = "scan", "3D scan"


class SectionProfile(Record):
    """One half of one cross-section, traced once: half-widths at depths below the midline.

    `points` is a list of [depth_mm, half_width_mm] in order of depth. Left and right are separate
    rows, never mirrored; `trace` 1 and 2 are the two times the curve was laid on. `scale_error` is
    that of the photo, a share of each length, None where nothing was photographed.
    """

    measurement = models.ForeignKey(BackMeasurement, models.CASCADE, related_name="sections")
    station = models.CharField(max_length=2, choices=Station)
    side = models.CharField(max_length=1, choices=[(Side.LEFT, "Left"), (Side.RIGHT, "Right")])
    trace = models.PositiveSmallIntegerField(default=1)
    behind_blade_mm = models.FloatField("distance behind the blade")
    points = models.JSONField(default=list)
    typed = models.JSONField(default=dict, blank=True)
    method = models.CharField(max_length=7, choices=ProfileMethod, default=ProfileMethod.TYPED)
    tracing = models.ForeignKey(
        "horses.TracingPhoto", models.SET_NULL, null=True, blank=True, related_name="sections"
    )
    scale_error = models.FloatField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("station", "side", "trace")
        constraints = (
            models.UniqueConstraint(
                fields=("measurement", "station", "side", "trace"),
                name="one_section_per_station_side_and_trace",
            ),
            models.CheckConstraint(
                condition=models.Q(trace__in=(1, 2)), name="section_trace_is_1_or_2"
            ),
            models.CheckConstraint(
                condition=models.Q(side__in=(Side.LEFT, Side.RIGHT)), name="section_side_is_l_or_r"
            ),
            range_check("section", "behind_blade_mm", -50, 800),
        )

    def __str__(self) -> str:
        return f"{self.station}{self.side} trace {self.trace}"


class LineProfile(Record):
    """A lengthwise profile: [distance_behind_blade_mm, height_mm] along the midline or a bar line.

    Heights are relative to each line's own first point and positive upward. `off_midline_mm` is
    where the line runs: 0 for the midline, about 75-100 mm for a bar line.
    """

    class Line(models.TextChoices):
        MIDLINE = "midline", "Midline"
        LEFT_BAR = "left_bar", "Left bar line"
        RIGHT_BAR = "right_bar", "Right bar line"

    measurement = models.ForeignKey(BackMeasurement, models.CASCADE, related_name="lines")
    line = models.CharField(max_length=9, choices=Line)
    trace = models.PositiveSmallIntegerField(default=1)
    off_midline_mm = models.FloatField(default=88)
    points = models.JSONField(default=list)
    typed = models.JSONField(default=dict, blank=True)
    method = models.CharField(max_length=7, choices=ProfileMethod, default=ProfileMethod.TYPED)
    tracing = models.ForeignKey(
        "horses.TracingPhoto", models.SET_NULL, null=True, blank=True, related_name="lines"
    )
    scale_error = models.FloatField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("line", "trace")
        constraints = (
            models.UniqueConstraint(
                fields=("measurement", "line", "trace"), name="one_line_per_kind_and_trace"
            ),
            models.CheckConstraint(
                condition=models.Q(trace__in=(1, 2)), name="line_trace_is_1_or_2"
            ),
            range_check("line", "off_midline_mm", 0, 160),
        )

    def __str__(self) -> str:
        return f"{self.get_line_display()} trace {self.trace}"
