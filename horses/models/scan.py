"""A 3D scan of a back: the file as it came, the marks on it, and what was read from it."""

import shutil
import uuid
from pathlib import Path

from django.conf import settings
from django.db import models, transaction
from django.db.models.signals import post_delete
from django.dispatch import receiver
from simple_history.models import HistoricalRecords

from horses.models.base import TypedRecord, range_check
from horses.models.measurement import BackMeasurement


def scan_path(scan: "BackScan", name: str) -> str:
    """Return where a scan is stored: a name that tells nothing of horse or phone."""
    return f"scans/{scan.key.hex}/scan.{scan.kind}"


class BackScan(TypedRecord):
    """One scan, taken with a measuring and on the way to becoming one.

    `marks` maps a mark's code to [x, y, z] in the file's own axes and unit. `account` is what was
    read from the scan and how, in mm; empty until then. Files derived from the scan lie beside it.
    """

    class State(models.TextChoices):
        READING = "reading", "Being read"
        MARKING = "marking", "To be marked"
        MEASURING = "measuring", "Being measured"
        READY = "ready", "Measured"
        REFUSED = "refused", "Not readable"

    class Unit(models.TextChoices):
        METRES = "m", "Metres"
        CENTIMETRES = "cm", "Centimetres"
        MILLIMETRES = "mm", "Millimetres"
        INCHES = "in", "Inches"
        FEET = "ft", "Feet"

    class Scale(models.TextChoices):
        UNIT = "unit", "The file's unit"
        TAPES = "tapes", "The two tapes"

    class Midline(models.TextChoices):
        SPINE = "spine", "Along the marks W, D and C"
        MIRROR = "mirror", "Where both sides mirror best"

    measurement = models.ForeignKey(BackMeasurement, models.CASCADE, related_name="scans")
    # The measuring made from it: the same one where nothing was traced, else one beside it.
    result = models.OneToOneField(
        BackMeasurement, models.SET_NULL, null=True, blank=True, related_name="from_scan"
    )
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=3)
    file = models.FileField(upload_to=scan_path)
    state = models.CharField(max_length=9, choices=State, default=State.READING)
    failure = models.TextField(blank=True)
    triangles = models.PositiveIntegerField(default=0)

    unit = models.CharField("unit of the file", max_length=2, choices=Unit, blank=True)
    tape_withers_croup_mm = models.FloatField(null=True, blank=True)
    tape_blade_rib_mm = models.FloatField(null=True, blank=True)
    scaled_by = models.CharField(
        "scale taken from", max_length=5, choices=Scale, default=Scale.UNIT
    )
    midline = models.CharField(max_length=6, choices=Midline, default=Midline.SPINE)
    marks = models.JSONField(default=dict, blank=True)
    account = models.JSONField(default=dict, blank=True)
    history = HistoricalRecords(excluded_fields=["account"])

    class Meta:
        ordering = ("-created_at", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(
                    state__in=("reading", "marking", "measuring", "ready", "refused")
                ),
                name="scan_state_is_known",
            ),
            models.CheckConstraint(
                condition=models.Q(kind__in=("ply", "obj", "stl", "glb")),
                name="scan_kind_is_known",
            ),
            models.CheckConstraint(
                condition=~models.Q(state="refused") | ~models.Q(failure=""),
                name="scan_refused_says_why",
            ),
            range_check("scan", "tape_withers_croup_mm", 350, 1700),
            range_check("scan", "tape_blade_rib_mm", 254, 712),
        )

    def __str__(self) -> str:
        return f"Scan {self.pk}: {self.get_state_display()}"

    @property
    def folder(self) -> Path:
        return Path(self.file.path).parent

    @property
    def surface_path(self) -> Path:
        """Where the cleaned surface is kept."""
        return self.folder / "surface.npz"

    @property
    def shown_path(self) -> Path:
        """Where the thin surface is kept that a phone can turn."""
        return self.folder / "shown.npz"

    @property
    def grid_path(self) -> Path:
        """Where the heights of the back are kept."""
        return self.folder / "grid.npz"

    @property
    def is_working(self) -> bool:
        return self.state in {self.State.READING, self.State.MEASURING}

    @property
    def is_marked(self) -> bool:
        return self.state in {self.State.MARKING, self.State.READY}


@receiver(post_delete, sender=BackScan)
def delete_files(sender: object, instance: BackScan, **more: object) -> None:
    """Delete the files with their row, also when the row goes with its horse."""
    folder = instance.folder
    transaction.on_commit(lambda: shutil.rmtree(folder, ignore_errors=True))
