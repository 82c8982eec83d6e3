"""A horse's records through time, each query complete for the pages that show it."""

from django.db.models import Prefetch, QuerySet

from horses.models import BackMeasurement, Horse, Ride, SkinMark, SorenessCheck

# Checks of the back at rest. Those after a ride belong to its recovery test, not to a trend.
AT_REST = frozenset(
    {
        SorenessCheck.Moment.VISIT,
        SorenessCheck.Moment.BEFORE,
        SorenessCheck.Moment.ROUND,
    }
)


def soreness_checks_through_time(horse: Horse) -> QuerySet[SorenessCheck]:
    """Return every check with its scores, oldest first."""
    return (
        SorenessCheck.objects.filter(horse=horse)
        .select_related("examiner")
        .prefetch_related("scores")
        .order_by("checked_at", "pk")
    )


def measurements_through_time(horse: Horse) -> QuerySet[BackMeasurement]:
    """Return the measurements with their profiles, oldest first."""
    return (
        BackMeasurement.objects.filter(horse=horse)
        .prefetch_related("sections", "lines")
        .order_by("measured_on", "pk")
    )


def rides_with_checks(horse: Horse) -> QuerySet[Ride]:
    """Return the long rides with the checks before and after them, latest first."""
    checks = SorenessCheck.objects.order_by("checked_at").prefetch_related("scores")
    return (
        Ride.objects.filter(horse=horse)
        .select_related("pairing__saddle")
        .prefetch_related(Prefetch("soreness_checks", checks))
        .order_by("-ended_at")
    )


def skin_marks_of(horse: Horse) -> QuerySet[SkinMark]:
    return SkinMark.objects.filter(horse=horse).order_by("-first_seen_on", "-pk")
