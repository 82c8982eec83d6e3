"""The practice's own study of how well its hand repeats a measuring."""

from django.conf import settings
from django.db import models

from horses.models.base import Record
from horses.models.horse import Horse


class RepeatabilityStudy(Record):
    """The same few horses measured again and again by one person on one day."""

    measured_on = models.DateField()
    examiner = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("-measured_on", "-pk")

    def __str__(self) -> str:
        return f"Study of {self.measured_on:%Y-%m-%d}"


class RepeatedValue(Record):
    """One value of one horse at one remount of the curve."""

    class Quantity(models.TextChoices):
        LEFT = "left", "Half-width 15 cm down, left"
        RIGHT = "right", "Half-width 15 cm down, right"
        DIP = "dip", "Dip under the straight edge"
        HOLLOW = "hollow", "Hollow behind the blade, left"

    study = models.ForeignKey(RepeatabilityStudy, models.CASCADE, related_name="values")
    horse = models.ForeignKey(Horse, models.CASCADE, related_name="+")
    quantity = models.CharField(max_length=6, choices=Quantity)
    remount = models.PositiveSmallIntegerField()
    value_mm = models.FloatField()

    class Meta:
        ordering = ("horse", "quantity", "remount")
        constraints = (
            models.UniqueConstraint(
                fields=("study", "horse", "quantity", "remount"), name="one_value_per_remount"
            ),
            models.CheckConstraint(
                condition=models.Q(remount__gte=1, remount__lte=10), name="remount_is_1_to_10"
            ),
            models.CheckConstraint(
                condition=models.Q(value_mm__gte=0, value_mm__lte=400), name="repeated_value_range"
            ),
        )

    def __str__(self) -> str:
        return f"{self.horse} {self.quantity} {self.remount}: {self.value_mm:g} mm"
