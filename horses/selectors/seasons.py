"""A horse's records through time, each query complete for the pages that show it."""

from django.db.models import Prefetch, QuerySet

from horses.models import BackMeasurement, Horse, Ride, SiteScore, SkinMark, SorenessCheck

# Checks of the back at rest. Those after a ride belong to its recovery test, not to a trend.
AT_REST = (
    SorenessCheck.Moment.VISIT,
    SorenessCheck.Moment.BEFORE,
    SorenessCheck.Moment.ROUND,
)


def soreness_checks_at_rest(horse: Horse) -> QuerySet[SorenessCheck]:
    """Return the checks that make the trend, oldest first."""
    return (
        SorenessCheck.objects.filter(horse=horse, moment__in=AT_REST)
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
    """Return the rides that were followed by checks, latest first."""
    checks = Prefetch(
        "soreness_checks",
        SorenessCheck.objects.order_by("checked_at").prefetch_related(
            Prefetch("scores", SiteScore.objects.all())
        ),
    )
    return (
        Ride.objects.filter(horse=horse)
        .select_related("pairing__saddle")
        .prefetch_related(checks)
        .order_by("-ended_at")
    )


def skin_marks(horse: Horse) -> QuerySet[SkinMark]:
    return SkinMark.objects.filter(horse=horse).order_by("-first_seen_on", "-pk")
