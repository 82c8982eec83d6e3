"""Alerts that somebody has put off, and why."""

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

from horses.models.base import Record


class AlertDeferral(Record):
    """One kind of alert of one horse, kept quiet until a day."""

    horse = models.ForeignKey("horses.Horse", models.CASCADE, related_name="alert_deferrals")
    code = models.CharField(max_length=12)
    until = models.DateField("quiet until")
    reason = models.CharField("why", max_length=200)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ("until", "pk")
        constraints = (
            models.UniqueConstraint(fields=("horse", "code"), name="one_deferral_per_alert"),
            models.CheckConstraint(condition=~models.Q(reason=""), name="deferral_has_a_reason"),
        )

    def __str__(self) -> str:
        return f"{self.code} of {self.horse} until {self.until:%Y-%m-%d}"
