"""Long rides with what a page of one needs."""

from django.db.models import Prefetch, QuerySet

from horses.models import Ride, SorenessCheck


def ride_with_checks(pk: int) -> QuerySet[Ride]:
    checks = (
        SorenessCheck.objects.select_related("examiner")
        .prefetch_related("scores")
        .order_by("checked_at")
    )
    return (
        Ride.objects.filter(pk=pk)
        .select_related("horse", "pairing__saddle")
        .prefetch_related(Prefetch("soreness_checks", checks), "recovery_links")
    )
