"""A photo of a curve traced on paper, with what was marked on it."""

import uuid

from django.conf import settings
from django.db import models, transaction
from django.db.models.signals import post_delete
from django.dispatch import receiver

from horses.models.base import TypedRecord, range_check
from horses.models.measurement import BackMeasurement, LineProfile, Station


def tracing_path(tracing: "TracingPhoto", name: str) -> str:
    """Return where a photo is stored: a name that tells nothing of horse or phone."""
    return f"tracings/{uuid.uuid4().hex}.jpg"


class TracingPhoto(TypedRecord):
    """A photo of one tracing: what it shows, how its scale is known, and the marks on it.

    `marks` maps "corners", "marks", "line", "zero" and "level" to lists of [x, y] in pixels of the
    stored photo. `paper` keeps what was found from the scale marks, with the marks it was found
    from. `scale_error` is one standard deviation of a length divided by that length.
    """

    class Scale(models.TextChoices):
        CORNERS = "corners", "Four corners of a sheet"
        SQUARES = "squares", "Squared paper"
        MARKS = "marks", "Two marks"

    class Sheet(models.TextChoices):
        A4 = "a4", "A4"
        A3 = "a3", "A3"
        LETTER = "letter", "Letter, 8 1/2 by 11 in"
        DOUBLE_LETTER = "double_letter", "11 by 17 in"
        OTHER = "other", "Another size"

    measurement = models.ForeignKey(BackMeasurement, models.CASCADE, related_name="tracings")
    shows = models.CharField(max_length=9, choices=[*Station.choices, *LineProfile.Line.choices])
    trace = models.PositiveSmallIntegerField(default=1)
    image = models.FileField(upload_to=tracing_path)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    scale = models.CharField(max_length=7, choices=Scale, default=Scale.CORNERS)
    sheet = models.CharField(max_length=13, choices=Sheet, default=Sheet.A3)
    width_mm = models.FloatField("width of the sheet", null=True, blank=True)
    height_mm = models.FloatField("height of the sheet", null=True, blank=True)
    square_mm = models.FloatField("side of a square", null=True, blank=True)
    apart_mm = models.FloatField("distance of the two marks", null=True, blank=True)
    marks = models.JSONField(default=dict, blank=True)
    paper = models.JSONField(default=dict, blank=True)
    is_upside_down = models.BooleanField(default=False)
    scale_error = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ("shows", "trace", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(trace__in=(1, 2)), name="tracing_trace_is_1_or_2"
            ),
            range_check("tracing", "width_mm", 50, 3000),
            range_check("tracing", "height_mm", 50, 3000),
            range_check("tracing", "square_mm", 3, 60),
            range_check("tracing", "apart_mm", 20, 2000),
            range_check("tracing", "scale_error", 0, 1),
        )

    def __str__(self) -> str:
        return f"Photo of {self.get_shows_display()} trace {self.trace}"

    @property
    def is_section(self) -> bool:
        return self.shows in Station.values


@receiver(post_delete, sender=TracingPhoto)
def delete_photo(sender: object, instance: TracingPhoto, **more: object) -> None:
    """Delete the file with its row, also when the row goes with its horse."""
    storage, name = instance.image.storage, str(instance.image.name)
    transaction.on_commit(lambda: storage.delete(name))
