"""Booked and recorded visits, and what is shared from them."""

import secrets
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

from horses.models.base import Record, range_check
from practice.models.people import Client, Place


class Visit(Record):
    """One appointment at one place for one or more horses."""

    class Kind(models.TextChoices):
        FIRST_FIT = "first_fit", "First full fit"
        FURTHER = "further", "Further horse, same place"
        RECHECK = "recheck", "Re-check"
        GROWTH = "growth", "Young-horse growth check"
        TRIAL = "trial", "Trial of saddles or trees"
        ADJUST = "adjust", "Flocking or shim adjustment"
        DELIVERY = "delivery", "Delivery of a new saddle"
        RECOVERY = "recovery", "Long-ride recovery check"
        REMOTE = "remote", "Remote review"
        STRING = "string", "Ranch string day"
        GROUP = "group", "Group day at a yard"

    class State(models.TextChoices):
        BOOKED = "booked", "Booked"
        UNDERWAY = "underway", "Underway"
        RECORDED = "recorded", "Recorded"
        CANCELLED = "cancelled", "Cancelled"

    kind = models.CharField(max_length=10, choices=Kind, default=Kind.RECHECK)
    state = models.CharField(max_length=9, choices=State, default=State.BOOKED)
    client = models.ForeignKey(Client, models.PROTECT, related_name="visits")
    place = models.ForeignKey(Place, models.PROTECT, null=True, blank=True, related_name="visits")
    fitter = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="visits"
    )
    starts_at = models.DateTimeField()
    time_zone = models.CharField(max_length=60)
    minutes = models.PositiveIntegerField("length in minutes", default=90)
    reason = models.CharField("why called", max_length=200, blank=True)
    notes = models.TextField(blank=True)
    horses = models.ManyToManyField("horses.Horse", through="VisitHorse", related_name="visits")
    history = HistoricalRecords()

    class Meta:
        ordering = ("-starts_at", "-pk")
        constraints = (range_check("visit", "minutes", 10, 600),)
        indexes = (models.Index(fields=("starts_at",), name="visit_by_start"),)

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.starts_local:%Y-%m-%d}"

    @property
    def starts_local(self) -> datetime:
        """The start on the clock of the place visited."""
        return self.starts_at.astimezone(ZoneInfo(self.time_zone))

    @property
    def ends_at(self) -> datetime:
        return self.starts_at + timedelta(minutes=self.minutes)

    @property
    def ends_local(self) -> datetime:
        return self.ends_at.astimezone(ZoneInfo(self.time_zone))


class VisitHorse(Record):
    """A horse on a visit, with the history taken before it is touched."""

    visit = models.ForeignKey(Visit, models.CASCADE, related_name="visit_horses")
    horse = models.ForeignKey("horses.Horse", models.CASCADE, related_name="visit_horses")
    what_changed = models.TextField("what changed, and when", blank=True)
    last_long_ride_on = models.DateField(null=True, blank=True)
    work_last_weeks = models.CharField("work in the last four weeks", max_length=200, blank=True)
    medicines = models.CharField("medicines now, last dose", max_length=200, blank=True)
    vet_note = models.CharField("vet, farrier, dentist", max_length=200, blank=True)
    earlier_sores = models.CharField("earlier sores or white hairs", max_length=200, blank=True)
    falls = models.CharField("falls, pulled back when tied", max_length=200, blank=True)
    behaviour = models.JSONField("behaviour signs", default=list, blank=True)
    # Of the 24 behaviours of the published ridden horse pain ethogram.
    pain_ethogram_count = models.PositiveSmallIntegerField(
        "ethogram count, of 24", null=True, blank=True
    )
    history_taken = models.BooleanField(default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(fields=("visit", "horse"), name="a_horse_once_per_visit"),
            range_check("visit_horse", "pain_ethogram_count", 0, 24),
        )

    def __str__(self) -> str:
        return f"{self.horse} on {self.visit}"


class StepDraft(Record):
    """What was typed at a step and could not be stored yet, so that nothing typed is lost."""

    visit_horse = models.ForeignKey(VisitHorse, models.CASCADE, related_name="drafts")
    step = models.CharField(max_length=40)
    data = models.JSONField(default=dict)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("visit_horse", "step"), name="one_draft_per_step"),
        )

    def __str__(self) -> str:
        return f"{self.step} of {self.visit_horse}"


def new_token() -> str:
    """Return an unguessable link token (256 random bits)."""
    return secrets.token_urlsafe(32)


class ShareLink(Record):
    """A read-only link to one horse's report of one visit. `content` is what was shared, frozen."""

    visit_horse = models.ForeignKey(VisitHorse, models.CASCADE, related_name="share_links")
    token = models.CharField(max_length=64, unique=True, default=new_token, editable=False)
    content = models.JSONField(default=dict)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+"
    )

    class Meta:
        ordering = ("-created_at", "-pk")

    def __str__(self) -> str:
        return f"Link to {self.visit_horse}"


class ShareView(models.Model):
    """One opening of a shared report. No address of the reader is kept."""

    link = models.ForeignKey(ShareLink, models.CASCADE, related_name="views")
    seen_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("-seen_at",)

    def __str__(self) -> str:
        return f"{self.seen_at:%Y-%m-%d %H:%M}"


class RecoveryLink(Record):
    """A link by which an owner answers one check of one ride, once, before it runs out."""

    ride = models.ForeignKey("horses.Ride", models.CASCADE, related_name="recovery_links")
    moment = models.CharField(
        max_length=10, choices=[("next_day", "The next day"), ("second_day", "The second day")]
    )
    token = models.CharField(max_length=64, unique=True, default=new_token, editable=False)
    opens_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True, blank=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+"
    )

    class Meta:
        ordering = ("opens_at", "pk")
        constraints = (
            models.UniqueConstraint(fields=("ride", "moment"), name="one_link_per_ride_and_moment"),
        )

    def __str__(self) -> str:
        return f"{self.get_moment_display()} of {self.ride}"
