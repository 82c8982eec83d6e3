"""Work done in the background. These rows are the truth; a message on a queue only points here."""

from django.conf import settings
from django.db import models

from horses.models.base import Record


class Job(Record):
    """One piece of background work, from being asked for to its end."""

    class State(models.TextChoices):
        QUEUED = "queued", "Waiting"
        RUNNING = "running", "Under way"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"

    kind = models.CharField(max_length=40)
    arguments = models.JSONField(default=dict, blank=True, help_text="Ids, never personal data.")
    state = models.CharField(max_length=7, choices=State, default=State.QUEUED)
    progress = models.PositiveSmallIntegerField(default=0, help_text="Percent.")
    step = models.CharField(max_length=200, blank=True)
    error = models.TextField(blank=True, help_text="In words for the person who asked.")
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    # While queued: last sent. While running: last sign of life.
    heartbeat_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("-created_at", "-pk")
        indexes = (models.Index(fields=("state", "heartbeat_at"), name="job_state_heartbeat"),)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(progress__lte=100), name="job_progress_is_percent"
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=("queued", "running", "done", "failed")),
                name="job_state_is_known",
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=("queued", "running"), finished_at__isnull=True)
                | models.Q(state__in=("done", "failed"), finished_at__isnull=False),
                name="job_finished_has_a_time",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="failed") | ~models.Q(error=""),
                name="job_failed_says_why",
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}: {self.get_state_display()}"

    @property
    def is_over(self) -> bool:
        return self.state in {self.State.DONE, self.State.FAILED}
