"""Horses as pages list them."""

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery

from horses.models import Horse, SiteScore, SorenessCheck


def horses_listed(
    *, words: str = "", state: str = "", place_id: int | None = None
) -> QuerySet[Horse]:
    """Return horses with their place, and the day (`felt_at`) and `worst` of the last check.

    Without a state, horses that were sold or died are left out.
    """
    horses = Horse.objects.select_related("place")
    if state:
        horses = horses.filter(state=state)
    else:
        horses = horses.exclude(state__in=(Horse.State.SOLD, Horse.State.DIED))
    if place_id is not None:
        horses = horses.filter(place_id=place_id)
    for word in words.split():
        horses = horses.filter(_named(word))
    last = SorenessCheck.objects.filter(horse=OuterRef("pk")).order_by("-checked_at", "-pk")
    worst = (
        SiteScore.objects.filter(check_done=OuterRef("last_check"))
        .order_by()
        .values("check_done")
        .annotate(most=Max("score"))
        .values("most")
    )
    return horses.annotate(
        last_check=Subquery(last.values("pk")[:1]),
        felt_at=Subquery(last.values("checked_at")[:1]),
    ).annotate(worst=Subquery(worst))


def _named(word: str) -> Q:
    return (
        Q(barn_name__icontains=word)
        | Q(registered_name__icontains=word)
        | Q(breed__icontains=word)
        | Q(microchip__startswith=word)
    )
