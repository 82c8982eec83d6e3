"""What the hand felt: soreness checks, marks on the skin, and long rides with their recovery."""

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

from horses.models.base import Record, Side, range_check
from horses.models.horse import Horse


class Site(models.TextChoices):
    """The twelve places felt, always in this order."""

    PO = "PO", "Poll and neck base"
    WM = "WM", "Top of the withers"
    WS = "WS", "Side of the withers"
    BS = "BS", "Behind the shoulder blade"
    UB = "UB", "Under the stirrup leather"
    MB = "MB", "Middle of the back"
    RB = "RB", "Rear of the back"
    LO = "LO", "Loin"
    SP = "SP", "Spine tips"
    CR = "CR", "Croup"
    GI = "GI", "Girth line"
    ST = "ST", "Breast, between the legs"


# Sites on the midline have one score, the others a left and a right one.
MIDLINE_SITES = frozenset({Site.WM, Site.SP})


def sides_of(site: str) -> tuple[str, ...]:
    """Return the sides on which a site is felt."""
    return (Side.MIDLINE,) if site in MIDLINE_SITES else (Side.LEFT, Side.RIGHT)


SCORE_WORDS = {
    0: "calm",
    1: "muscle tightens or skin twitches",
    2: "dips or shifts, ear or eye changes",
    3: "sinks, steps off or threatens, every time",
    4: "will not be touched, or heat, swelling, open skin",
}


class Ride(Record):
    """A long ride whose effect on the back is followed over two days."""

    horse = models.ForeignKey(Horse, models.CASCADE, related_name="rides")
    pairing = models.ForeignKey(
        "fitting.Pairing", models.SET_NULL, null=True, blank=True, related_name="rides"
    )
    ended_at = models.DateTimeField()
    hours = models.FloatField()
    distance_km = models.FloatField(null=True, blank=True)
    terrain = models.CharField(max_length=120, blank=True)
    weather = models.CharField(max_length=120, blank=True)
    reported_by = models.CharField(max_length=120, blank=True)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-ended_at",)
        constraints = (range_check("ride", "hours", 0, 24),)

    def __str__(self) -> str:
        return f"{self.horse} {self.ended_at:%Y-%m-%d} {self.hours:g} h"


class SorenessCheck(Record):
    """One feeling-over of one horse by one person; 'not tested' is a site without a score."""

    class Moment(models.TextChoices):
        VISIT = "visit", "At a visit"
        BEFORE = "before", "Before the ride"
        AFTER = "after", "After the ride"
        NEXT_DAY = "next_day", "Next day"
        SECOND_DAY = "second_day", "Second day"
        ROUND = "round", "Quick round"

    horse = models.ForeignKey(Horse, models.CASCADE, related_name="soreness_checks")
    visit = models.ForeignKey(
        "practice.Visit", models.SET_NULL, null=True, blank=True, related_name="soreness_checks"
    )
    ride = models.ForeignKey(
        Ride, models.CASCADE, null=True, blank=True, related_name="soreness_checks"
    )
    moment = models.CharField(max_length=10, choices=Moment, default=Moment.VISIT)
    checked_at = models.DateTimeField()
    examiner = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    painkillers = models.CharField("painkillers: which and last dose", max_length=120, blank=True)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-checked_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("horse", "visit"),
                condition=models.Q(moment="visit", visit__isnull=False),
                name="one_soreness_check_per_horse_and_visit",
            ),
        )

    def __str__(self) -> str:
        return f"{self.horse} {self.checked_at:%Y-%m-%d}"


class SiteScore(Record):
    """One site on one side. A row with `score` empty says 'not tested'."""

    class Tone(models.TextChoices):
        SOFT = "soft", "Soft"
        NORMAL = "normal", "Normal"
        TIGHT = "tight", "Tight"
        HARD = "hard", "Hard"

    check_done = models.ForeignKey(SorenessCheck, models.CASCADE, related_name="scores")
    site = models.CharField(max_length=2, choices=Site)
    side = models.CharField(max_length=1, choices=Side)
    score = models.PositiveSmallIntegerField(null=True, blank=True)
    tone = models.CharField(max_length=6, choices=Tone, blank=True)
    is_warm = models.BooleanField(default=False)
    swelling_mm = models.FloatField(null=True, blank=True)
    is_repeatable = models.BooleanField(null=True, blank=True)
    is_ticklish = models.BooleanField(default=False)
    # Force of the algometer's tip at which the horse reacts; never mixed with a saddle's pressure.
    algometer_kg_per_cm2 = models.FloatField("algometer", null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(
                fields=("check_done", "site", "side"), name="one_score_per_site_and_side"
            ),
            range_check("site_score", "score", 0, 4),
            range_check("site_score", "swelling_mm", 0, 200),
            range_check("site_score", "algometer_kg_per_cm2", 0.2, 30),
            models.CheckConstraint(
                condition=~models.Q(score=4) | ~models.Q(note=""),
                name="score_4_needs_a_note",
            ),
        )

    def __str__(self) -> str:
        shown = "not tested" if self.score is None else str(self.score)
        return f"{self.site} {self.side}: {shown}"

    @property
    def words(self) -> str:
        return "not tested" if self.score is None else SCORE_WORDS[self.score]


class SkinMark(Record):
    """A white hair patch, gall, scar or swelling, placed on the horse with its first-seen date."""

    class Kind(models.TextChoices):
        WHITE_HAIR = "white_hair", "White hairs"
        BROKEN_HAIR = "broken_hair", "Broken or rubbed hair"
        SWELLING = "swelling", "Swelling"
        GALL = "gall", "Gall"
        SCAR = "scar", "Scar"
        DRY_SPOT = "dry_spot", "Dry spot"

    class Course(models.TextChoices):
        STABLE = "stable", "Stable"
        GROWING = "growing", "Growing"
        FADING = "fading", "Fading"
        GONE = "gone", "Gone"

    horse = models.ForeignKey(Horse, models.CASCADE, related_name="skin_marks")
    kind = models.CharField(max_length=12, choices=Kind)
    side = models.CharField(max_length=1, choices=Side)
    site = models.CharField(max_length=2, choices=Site, blank=True)
    size_mm = models.FloatField(null=True, blank=True)
    behind_blade_mm = models.FloatField(null=True, blank=True)
    off_midline_mm = models.FloatField(null=True, blank=True)
    first_seen_on = models.DateField("first seen on")
    last_seen_on = models.DateField("last looked at", null=True, blank=True)
    course = models.CharField("how it goes", max_length=7, choices=Course, blank=True)
    note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("first_seen_on", "pk")

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.side}"
