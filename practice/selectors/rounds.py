"""The horses of a place, and which of them were felt over today."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q, QuerySet

from horses.models import Horse, SorenessCheck
from practice.models import Place
from practice.selectors.today import start_of

IN_CARE = ~Q(horses__state__in=(Horse.State.SOLD, Horse.State.DIED))


@dataclass(frozen=True)
class RoundRow:
    """A horse of the round, with today's quick check if it was made."""

    horse: Horse
    check: SorenessCheck | None
    worst: int | None


def places_with_horses() -> QuerySet[Place]:
    counted = Place.objects.annotate(horse_count=Count("horses", filter=IN_CARE))
    return counted.filter(horse_count__gt=0).order_by("name", "pk")


def round_of(place: Place, day: date) -> list[RoundRow]:
    """Return the horses that stand at a place, by name."""
    horses = list(
        Horse.objects.filter(place=place)
        .exclude(state__in=(Horse.State.SOLD, Horse.State.DIED))
        .order_by("barn_name", "pk")
    )
    checks = {check.horse_id: check for check in _round_checks(day).filter(horse__in=horses)}
    return [RoundRow(horse, checks.get(horse.pk), _worst(checks.get(horse.pk))) for horse in horses]


def _round_checks(day: date) -> QuerySet[SorenessCheck]:
    begin = start_of(day)
    return (
        SorenessCheck.objects.filter(
            moment=SorenessCheck.Moment.ROUND,
            checked_at__gte=begin,
            checked_at__lt=begin + timedelta(days=1),
        )
        .prefetch_related("scores")
        .order_by("checked_at", "pk")
    )


def round_check(horse: Horse, day: date) -> SorenessCheck | None:
    """Return today's quick check of a horse, which feeling it again changes."""
    return _round_checks(day).filter(horse=horse).last()


def _worst(check: SorenessCheck | None) -> int | None:
    scores = [row.score for row in check.scores.all()] if check else []
    return max((score for score in scores if score is not None), default=None)


def last_scores(horse: Horse, made: SorenessCheck | None) -> Mapping[tuple[str, str], int | None]:
    """Return what the check before said, to hold beside today's."""
    earlier = SorenessCheck.objects.filter(horse=horse)
    if made is not None:
        earlier = earlier.exclude(pk=made.pk)
    last = earlier.prefetch_related("scores").order_by("-checked_at", "-pk").first()
    return {(r.site, r.side): r.score for r in last.scores.all()} if last else {}
