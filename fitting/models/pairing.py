"""The unit of judgement: this horse, saddle, pad, rider and use, over a span of dates."""

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

from fitting.models.tack import Pad, Saddle
from horses.models.base import Record, TypedRecord, range_check


class Pairing(TypedRecord):
    """A horse under a saddle with a pad and a rider for a use. Never a saddle or horse alone."""

    horse = models.ForeignKey("horses.Horse", models.CASCADE, related_name="pairings")
    saddle = models.ForeignKey(Saddle, models.PROTECT, related_name="pairings")
    pad = models.ForeignKey(Pad, models.PROTECT, null=True, blank=True, related_name="pairings")
    rider = models.ForeignKey(
        "practice.Rider", models.SET_NULL, null=True, blank=True, related_name="pairings"
    )
    use = models.CharField(max_length=120, blank=True)
    hours_per_day = models.FloatField("usual hours a day", null=True, blank=True)
    ropes = models.BooleanField("pulls on the horn", default=False)
    mounts_from_ground = models.BooleanField("mounted from the ground", default=False)
    gear_mass_kg = models.FloatField("gear carried", null=True, blank=True)
    tip_behind_blade_mm = models.FloatField("front tip behind the blade", null=True, blank=True)
    shim_front_left_mm = models.FloatField("shim, front left", default=0)
    shim_front_right_mm = models.FloatField("shim, front right", default=0)
    shim_rear_left_mm = models.FloatField("shim, rear left", default=0)
    shim_rear_right_mm = models.FloatField("shim, rear right", default=0)
    shims_until = models.DateField("shims to be checked by", null=True, blank=True)
    from_date = models.DateField("in use from")
    to_date = models.DateField("in use until", null=True, blank=True)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-from_date", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(to_date__isnull=True)
                | models.Q(to_date__gte=models.F("from_date")),
                name="pairing_ends_after_it_starts",
            ),
            range_check("pairing", "hours_per_day", 0, 16),
            range_check("pairing", "gear_mass_kg", 0, 113.5),
            range_check("pairing", "tip_behind_blade_mm", -77, 153),
            *(
                range_check("pairing", f"shim_{corner}_mm", 0, 19)
                for corner in ("front_left", "front_right", "rear_left", "rear_right")
            ),
        )

    def __str__(self) -> str:
        return f"{self.horse} with {self.saddle.tag}"

    @property
    def is_current(self) -> bool:
        return self.to_date is None


class SafetyCheck(Record):
    """The saddle turned over and tested before it goes on a horse; a fail stops the ride."""

    class Result(models.TextChoices):
        SAFE = "safe", "Safe"
        REPAIR = "repair", "Safe with repair by the date given"
        UNSAFE = "unsafe", "Unsafe: not to be ridden"

    saddle = models.ForeignKey(Saddle, models.CASCADE, related_name="safety_checks")
    visit = models.ForeignKey(
        "practice.Visit", models.SET_NULL, null=True, blank=True, related_name="safety_checks"
    )
    checked_on = models.DateField()
    examiner = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # {item code: "ok" | "worn" | "fail"}; an item that is absent was not tested.
    items = models.JSONField(default=dict, blank=True)
    result = models.CharField(max_length=6, choices=Result, blank=True)
    repair_by = models.DateField(null=True, blank=True)
    notes = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("-checked_on", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("saddle", "visit"), name="one_safety_check_per_saddle_and_visit"
            ),
        )

    def __str__(self) -> str:
        return f"{self.saddle} {self.checked_on:%Y-%m-%d}"


class HandCheck(Record):
    """One of the checks on the horse, by hand and eye, in one phase of a visit."""

    class Phase(models.TextChoices):
        BARE = "bare", "Without pad"
        PAD = "pad", "With the working pad"
        RIDDEN = "ridden", "With rider"

    class Outcome(models.TextChoices):
        GOOD = "good", "Good"
        WATCH = "watch", "Watch"
        BAD = "bad", "Not good"
        NOT_TESTED = "not_tested", "Not tested"

    pairing = models.ForeignKey(Pairing, models.CASCADE, related_name="hand_checks")
    visit = models.ForeignKey("practice.Visit", models.CASCADE, related_name="hand_checks")
    phase = models.CharField(max_length=6, choices=Phase)
    code = models.CharField(max_length=24)
    outcome = models.CharField(max_length=10, choices=Outcome, default=Outcome.NOT_TESTED)
    left_mm = models.FloatField(null=True, blank=True)
    right_mm = models.FloatField(null=True, blank=True)
    typed = models.JSONField(default=dict, blank=True)
    note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(
                fields=("pairing", "visit", "phase", "code"),
                name="one_hand_check_per_phase_and_code",
            ),
        )

    def __str__(self) -> str:
        return f"{self.phase} {self.code}: {self.outcome}"


class FitEvaluation(Record):
    """A computed fit, frozen with the inputs and engine version that gave it."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        DONE = "done", "Done"
        FAILED = "failed", "Could not be computed"

    pairing = models.ForeignKey(Pairing, models.CASCADE, related_name="evaluations")
    visit = models.ForeignKey(
        "practice.Visit", models.SET_NULL, null=True, blank=True, related_name="evaluations"
    )
    measurement = models.ForeignKey(
        "horses.BackMeasurement", models.SET_NULL, null=True, related_name="evaluations"
    )
    evaluated_on = models.DateField()
    state = models.CharField(max_length=7, choices=State, default=State.WAITING)
    engine_version = models.CharField(max_length=20, blank=True)
    inputs = models.JSONField(default=dict)
    result = models.JSONField(default=dict, blank=True)
    # Copied out of `result` so that lists and trends need not load it.
    measures = models.JSONField(default=dict, blank=True)
    # How the findings move over the ranges of what was assumed; worked out when it is asked for.
    sensitivity = models.JSONField(default=dict, blank=True)
    failure = models.CharField("why not", max_length=300, blank=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("-evaluated_on", "-pk")

    def __str__(self) -> str:
        return f"{self.pairing} on {self.evaluated_on:%Y-%m-%d}"


class Verdict(Record):
    """The fitter's decision on a pairing, signed and with an expiry date."""

    class Word(models.TextChoices):
        CARRY_ON = "carry_on", "Carry on"
        SMALL_CHANGES = "small_changes", "Carry on, small changes"
        SHORT_RIDES = "short_rides", "Short rides only until changed"
        NOT_THIS_SADDLE = "not_this_saddle", "Not this saddle on this horse"
        REST_FIRST = "rest_first", "Rest the back first"
        VET_FIRST = "vet_first", "Vet before anything else"
        UNSAFE = "unsafe", "Saddle unsafe"
        COULD_NOT_JUDGE = "could_not_judge", "Could not judge"

    class Confidence(models.TextChoices):
        MEASURED = "measured", "Measured"
        FELT = "felt", "Felt"
        OWNER = "owner", "Owner's report"
        REMOTE = "remote", "Seen from afar"

    pairing = models.ForeignKey(Pairing, models.CASCADE, related_name="verdicts")
    visit = models.ForeignKey("practice.Visit", models.CASCADE, related_name="verdicts")
    word = models.CharField("verdict", max_length=16, choices=Word)
    also_rest_first = models.BooleanField("and rest the back first", default=False)
    confidence = models.CharField(max_length=8, choices=Confidence)
    reason = models.TextField(blank=True)
    changes = models.TextField("what we changed", blank=True)
    advice = models.TextField("what the owner does", blank=True)
    hours_limit = models.FloatField("most hours a day", null=True, blank=True)
    next_check_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField()
    signed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="verdicts")
    signed_at = models.DateTimeField()
    history = HistoricalRecords()

    class Meta:
        ordering = ("-signed_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("pairing", "visit"), name="one_verdict_per_pairing_and_visit"
            ),
            range_check("verdict", "hours_limit", 0, 16),
            models.CheckConstraint(
                condition=~models.Q(word="not_this_saddle") | ~models.Q(reason=""),
                name="not_this_saddle_needs_a_reason",
            ),
        )

    def __str__(self) -> str:
        return f"{self.pairing}: {self.get_word_display()}"
