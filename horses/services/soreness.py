"""Writing down what the hand felt, marks on the skin and long rides."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import transaction

from horses.models import Horse, Ride, SiteScore, SkinMark, SorenessCheck, sides_of
from horses.services.records import store

if TYPE_CHECKING:
    from fitting.models import Pairing
    from practice.models import User, Visit

Scores = Mapping[tuple[str, str], Mapping[str, Any]]


@transaction.atomic
def record_soreness_check(
    *,
    horse: Horse,
    checked_at: datetime,
    scores: Scores,
    examiner: "User | None" = None,
    moment: str = SorenessCheck.Moment.VISIT,
    visit: "Visit | None" = None,
    ride: Ride | None = None,
    notes: str = "",
    painkillers: str = "",
    check: SorenessCheck | None = None,
) -> SorenessCheck:
    """Change `check`, or that of the visit or of the ride's moment; make one if there is none.

    `scores` maps (site, side) to the fields of a SiteScore; a score of None says 'not tested'.
    Sites that are not in `scores` keep what they had. The time of an existing check is kept.
    """
    check = (
        check
        or _check_made(horse, visit, ride, moment)
        or SorenessCheck(
            horse=horse,
            visit=visit,
            moment=moment,
            ride=ride,
            examiner=examiner,
            checked_at=checked_at,
        )
    )
    store(check, notes=notes, painkillers=painkillers)
    stored = {(row.site, row.side): row for row in check.scores.all()}
    for (site, side), values in scores.items():
        _require_side(site, side)
        row = stored.get((site, side)) or SiteScore(check_done=check, site=site, side=side)
        _save_score(row, values)
    return check


@transaction.atomic
def forget_site(*, check: SorenessCheck, site: str, side: str) -> SorenessCheck:
    """Take back a site entered by mistake: it then says nothing, not even 'not tested'."""
    for row in check.scores.filter(site=site, side=side):
        row.delete()
    return check


@transaction.atomic
def record_ride(
    *,
    horse: Horse,
    ended_at: datetime,
    hours: float,
    pairing: "Pairing | None" = None,
    **values: Any,
) -> Ride:
    """Write down a long ride whose effect on the back is to be followed."""
    ride = Ride(horse=horse, ended_at=ended_at, hours=hours, pairing=pairing)
    return store(ride, **values)


@transaction.atomic
def change_ride(*, ride: Ride, **values: Any) -> Ride:
    """Change a ride; its checks keep their own times."""
    return store(ride, **values)


@transaction.atomic
def add_skin_mark(
    *, horse: Horse, kind: str, side: str, first_seen_on: date, **values: Any
) -> SkinMark:
    """Write down a mark on the skin with the day it was first seen."""
    mark = SkinMark(horse=horse, kind=kind, side=side, first_seen_on=first_seen_on)
    return store(mark, **values)


@transaction.atomic
def change_skin_mark(*, mark: SkinMark, **values: Any) -> SkinMark:
    """Change a mark; the history keeps how it was."""
    return store(mark, **values)


def _check_made(
    horse: Horse, visit: "Visit | None", ride: Ride | None, moment: str
) -> SorenessCheck | None:
    if ride is not None:
        return SorenessCheck.objects.filter(ride=ride, moment=moment).first()
    if visit is None or moment != SorenessCheck.Moment.VISIT:
        return None
    return SorenessCheck.objects.filter(horse=horse, visit=visit, moment=moment).first()


def _require_side(site: str, side: str) -> None:
    if side not in sides_of(site):
        raise ValidationError({"side": f"{site} is not felt on side {side}."})


def _save_score(row: SiteScore, values: Mapping[str, Any]) -> None:
    if values.get("score") == 4 and not values.get("note", row.note):
        raise ValidationError({"note": "A score of 4 needs a note: what did the horse do?"})
    store(row, **values)
