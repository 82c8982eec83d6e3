"""Asking an owner for one check of a ride, and taking the answer."""

from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from horses.models import Ride, SorenessCheck
from horses.recovery import WINDOW_HOURS
from horses.services.records import store
from horses.services.soreness import Scores, record_soreness_check
from practice.models import RecoveryLink, User

MADE = "This check is made already."
GRACE = timedelta(hours=24)  # a late answer still shows what is left


@transaction.atomic
def ask_owner(*, ride: Ride, moment: str, created_by: User) -> RecoveryLink:
    """Make the link for one check of a ride; asked again it stays the same.

    Raises ValidationError where the check is made already or its time has passed.
    """
    if moment not in WINDOW_HOURS:
        raise ValidationError("Owners are asked on the next day and on the second day only.")
    if is_made(RecoveryLink(ride=ride, moment=moment)):
        raise ValidationError(MADE)
    opens, closes = (ride.ended_at + timedelta(hours=hours) for hours in WINDOW_HOURS[moment])
    if closes + GRACE <= timezone.now():
        raise ValidationError("The time for this check has passed.")
    link = RecoveryLink.objects.filter(ride=ride, moment=moment).first()
    if link is not None:
        return link
    return store(
        RecoveryLink(ride=ride, moment=moment),
        opens_at=opens,
        expires_at=closes + GRACE,
        created_by=created_by,
    )


def is_made(link: RecoveryLink) -> bool:
    """Tell whether the check a link asks for is there, whoever made it."""
    return SorenessCheck.objects.filter(ride=link.ride_id, moment=link.moment).exists()


@transaction.atomic
def answer_check(
    *, link: RecoveryLink, answered_at: datetime, scores: Scores, notes: str = ""
) -> SorenessCheck:
    """Store an owner's answer and close the link for good.

    Raises ValidationError where the check is made already, by the owner or by the practice: a link
    never changes what somebody else felt.
    """
    locked = RecoveryLink.objects.select_for_update().get(pk=link.pk)
    if locked.answered_at is not None or is_made(locked):
        raise ValidationError(MADE)
    values: dict[str, Any] = {"horse": link.ride.horse, "ride": link.ride, "moment": link.moment}
    check = record_soreness_check(**values, checked_at=answered_at, scores=scores, notes=notes)
    store(locked, answered_at=answered_at)
    return check
