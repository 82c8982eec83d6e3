"""Booking, changing and cancelling visits."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from horses.models import Horse
from horses.services.records import store
from practice.models import Client, Place, User, Visit, VisitHorse

TYPICAL_MINUTES = {  # common practice, no source
    Visit.Kind.FIRST_FIT: 120,
    Visit.Kind.FURTHER: 75,
    Visit.Kind.RECHECK: 60,
    Visit.Kind.GROWTH: 45,
    Visit.Kind.TRIAL: 120,
    Visit.Kind.ADJUST: 90,
    Visit.Kind.DELIVERY: 75,
    Visit.Kind.RECOVERY: 15,
    Visit.Kind.REMOTE: 30,
    Visit.Kind.STRING: 420,
    Visit.Kind.GROUP: 360,
}


@transaction.atomic
def book_visit(
    *,
    kind: str,
    client: Client,
    place: Place | None,
    fitter: User | None,
    starts_at: datetime,
    time_zone: str,
    minutes: int,
    horses: Iterable[Horse],
    reason: str = "",
    notes: str = "",
) -> Visit:
    """Book a visit for one or more horses; raises ValidationError for a horse that is gone."""
    visit = store(
        Visit(),
        kind=kind,
        client=client,
        place=place,
        fitter=fitter,
        starts_at=starts_at,
        time_zone=time_zone,
        minutes=minutes,
        reason=reason,
        notes=notes,
    )
    _set_horses(visit, list(horses))
    return visit


@transaction.atomic
def change_visit(*, visit: Visit, horses: Iterable[Horse] | None = None, **values: Any) -> Visit:
    """Change a visit; a horse already recorded on it cannot be taken off."""
    if visit.state == Visit.State.CANCELLED:
        raise ValidationError("This visit is cancelled; book a new one.")
    store(visit, **values)
    if horses is not None:
        _set_horses(visit, list(horses))
    return visit


def _set_horses(visit: Visit, horses: list[Horse]) -> None:
    present = {row.horse_id: row for row in visit.visit_horses.select_related("horse")}
    for horse in horses:
        if horse.pk not in present:
            _check_bookable(horse)
            VisitHorse.objects.create(visit=visit, horse=horse)
    staying = {horse.pk for horse in horses}
    for horse_id, row in present.items():
        if horse_id not in staying:
            _check_removable(row)
            row.delete()


def _check_bookable(horse: Horse) -> None:
    if not horse.is_in_care:
        state = horse.get_state_display().lower()
        raise ValidationError({"horses": f"{horse} is {state} and cannot be booked."})


def _check_removable(row: VisitHorse) -> None:
    visit = row.visit
    has_records = (
        row.history_taken
        or row.drafts.exists()
        or visit.measurements.filter(horse=row.horse).exists()
        or visit.soreness_checks.filter(horse=row.horse).exists()
        or visit.verdicts.filter(pairing__horse=row.horse).exists()
        or visit.hand_checks.filter(pairing__horse=row.horse).exists()
        or row.share_links.exists()
    )
    if has_records:
        raise ValidationError({"horses": f"{row.horse} has records on this visit and stays on it."})


def cancel_visit(*, visit: Visit, reason: str) -> Visit:
    """Cancel a visit that has not been recorded; why is kept with its notes."""
    if visit.state not in {Visit.State.BOOKED, Visit.State.UNDERWAY}:
        raise ValidationError(f"This visit is {visit.get_state_display().lower()} already.")
    notes = f"{visit.notes}\nCancelled: {reason}".strip()
    return store(visit, state=Visit.State.CANCELLED, notes=notes)


def set_visit_state(*, visit: Visit, state: str) -> Visit:
    return store(visit, state=state)
