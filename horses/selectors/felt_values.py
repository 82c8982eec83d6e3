"""One number for each feeling-over: how the places that carry a saddle reacted, side by side."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Avg, Count, Q
from django.utils import timezone

from horses.models import SorenessCheck
from horses.selectors.seasons import AT_REST

# Places under a saddle that the full map and the quick round both feel, so that both compare.
UNDER_SADDLE = ("WS", "BS", "RB", "LO")
FEWEST_TESTED = 4  # of the eight, left and right together; fewer leave a check out
SORE = 2  # dips or shifts


@dataclass(frozen=True)
class FeltValue:
    """Mean score of a check's places under the saddle, and of each side; what was felt of eight."""

    horse_id: int
    day: date
    value: float
    left: float | None
    right: float | None
    tested: int
    sore: int


def felt_values(horse_id: int | None = None) -> list[FeltValue]:
    """Return the checks at rest of one horse, or of all, oldest first; not tested is never 0."""
    checks = SorenessCheck.objects.filter(
        moment__in=AT_REST, scores__site__in=UNDER_SADDLE, scores__score__isnull=False
    )
    if horse_id is not None:
        checks = checks.filter(horse_id=horse_id)
    rows = (
        checks.order_by("checked_at", "pk")
        .values("pk", "horse_id", "checked_at")
        .annotate(
            value=Avg("scores__score"),
            left=Avg("scores__score", filter=Q(scores__side="L")),
            right=Avg("scores__score", filter=Q(scores__side="R")),
            tested=Count("scores"),
            sore=Count("scores", filter=Q(scores__score__gte=SORE)),
        )
    )
    return [
        FeltValue(
            horse_id=row["horse_id"],
            day=timezone.localdate(row["checked_at"]),
            value=row["value"],
            left=row["left"],
            right=row["right"],
            tested=row["tested"],
            sore=row["sore"],
        )
        for row in rows
        if row["tested"] >= FEWEST_TESTED
    ]
