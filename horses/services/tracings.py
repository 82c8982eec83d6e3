"""Keeping photos of tracings, their marks, and what was read from them."""

from typing import TYPE_CHECKING, Any

from django.core.files.base import ContentFile
from django.db import transaction

from horses.adapters.tracings import Reading
from horses.digitising.photos import CleanPhoto
from horses.models import BackMeasurement, TracingPhoto
from horses.services.measurements import record_line, record_section
from horses.services.records import merged_typed, store

if TYPE_CHECKING:
    from practice.models import User

# What the next photo starts with: a practice uses the same paper again.
CARRIED_ON = ("scale", "sheet", "width_mm", "height_mm", "square_mm", "apart_mm")


@transaction.atomic
def keep_tracing(
    *,
    measurement: BackMeasurement,
    shows: str,
    trace: int,
    photo: CleanPhoto,
    taken_by: "User | None" = None,
) -> TracingPhoto:
    """Store a photo of one tracing, with the scale of the last photo of this practice."""
    last = TracingPhoto.objects.order_by("-pk").first()
    carried = {name: getattr(last, name) for name in CARRIED_ON} if last else {}
    typed = {n: t for n, t in last.typed.items() if n in CARRIED_ON} if last else {}
    tracing = TracingPhoto(
        measurement=measurement, shows=shows, trace=trace, taken_by=taken_by, **carried
    )
    tracing.image.save("tracing.jpg", ContentFile(photo.data), save=False)
    return store(tracing, width_px=photo.width_px, height_px=photo.height_px, typed=typed)


@transaction.atomic
def mark_tracing(
    *, tracing: TracingPhoto, values: dict[str, Any], typed: dict[str, str]
) -> TracingPhoto:
    """Write down scale and marks; only what is in `values` is changed."""
    return store(tracing, **values, typed=merged_typed(tracing.typed, values, typed))


@transaction.atomic
def keep_paper(*, tracing: TracingPhoto, reading: Reading) -> TracingPhoto:
    """Remember the scale that was found, so that it is not looked for again."""
    return store(tracing, paper=reading.paper, scale_error=reading.scale_error)


@transaction.atomic
def accept_tracing(
    *, tracing: TracingPhoto, reading: Reading, behind_blade_mm: float | None = None
) -> TracingPhoto:
    """Store what a photo says as the section or line it shows.

    Raises ValidationError when the numbers cannot be those of a back.
    """
    if reading.section is None:
        record_line(
            measurement=tracing.measurement,
            line=tracing.shows,
            trace=tracing.trace,
            points=reading.heights,
            tracing=tracing,
        )
        return tracing
    for side, points in (("L", reading.section.left), ("R", reading.section.right)):
        record_section(
            measurement=tracing.measurement,
            station=tracing.shows,
            side=side,
            trace=tracing.trace,
            points=points,
            behind_blade_mm=behind_blade_mm,
            tracing=tracing,
        )
    return tracing


@transaction.atomic
def remove_tracing(*, tracing: TracingPhoto) -> BackMeasurement:
    """Delete a photo; what was read from it and kept stays."""
    measurement = tracing.measurement
    tracing.delete()
    return measurement
