"""Everything recorded on one visit, for all its horses at once."""

from django.db.models import OuterRef, QuerySet, Subquery

from horses.models import BackMeasurement, SorenessCheck
from practice.models import Visit
from practice.selectors.recording import Recorded, day_of, pairings_on, visit_horses_of_visit


def recorded_on(visit: Visit) -> list[Recorded]:
    """Return what is recorded for each horse, in as many queries as for one horse."""
    rows = list(visit_horses_of_visit(visit.pk).prefetch_related("drafts"))
    if not rows:
        return []
    horses = [row.horse_id for row in rows]
    measurements = {row.horse_id: row for row in _measurements(visit)}
    checks = {row.horse_id: row for row in _checks(visit)}
    before = {row.horse_id: row for row in _checks_before(visit, horses)}
    pairings = list(pairings_on(visit.pk, day_of(rows[0]), horses))
    return [
        Recorded(
            visit_horse=row,
            measurement=measurements.get(row.horse_id),
            check=checks.get(row.horse_id),
            last_check=before.get(row.horse_id),
            pairings=[pairing for pairing in pairings if pairing.horse_id == row.horse_id],
            drafts={draft.step for draft in row.drafts.all()},
        )
        for row in rows
    ]


def _measurements(visit: Visit) -> QuerySet[BackMeasurement]:
    found = BackMeasurement.objects.filter(visit=visit)
    return found.select_related("horse").prefetch_related("sections", "lines")


def _checks(visit: Visit) -> QuerySet[SorenessCheck]:
    found = SorenessCheck.objects.filter(visit=visit, moment=SorenessCheck.Moment.VISIT)
    return found.prefetch_related("scores")


def _checks_before(visit: Visit, horses: list[int]) -> QuerySet[SorenessCheck]:
    """Return the latest feeling-over of each horse before this visit."""
    earlier = SorenessCheck.objects.filter(checked_at__lt=visit.starts_at).exclude(visit=visit)
    last = earlier.filter(horse=OuterRef("horse")).order_by("-checked_at", "-pk")
    found = SorenessCheck.objects.filter(horse__in=horses, pk=Subquery(last.values("pk")[:1]))
    return found.prefetch_related("scores")
