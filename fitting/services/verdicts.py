"""The fitter's signed decision on a pairing, and the dates that follow from it."""

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.utils import timezone

from fitting.models import Pairing, Verdict
from horses.services.records import store

if TYPE_CHECKING:
    from practice.models import User, Visit

# Common practice, no source: a verdict holds half a year, half as long for young or shared horses.
EXPIRES_AFTER = timedelta(days=182)
EXPIRES_AFTER_WHEN_CHANGING = timedelta(days=91)
YOUNG_UNTIL_YEARS = 6.0

# Days to the next check by verdict (common practice, no source); None: as the veterinarian says.
NEXT_CHECK_DAYS: dict[str, int | None] = {
    Verdict.Word.CARRY_ON: 182,
    Verdict.Word.SMALL_CHANGES: 42,
    Verdict.Word.SHORT_RIDES: 28,
    Verdict.Word.NOT_THIS_SADDLE: 28,
    Verdict.Word.REST_FIRST: 14,
    Verdict.Word.VET_FIRST: None,
    Verdict.Word.UNSAFE: 28,
    Verdict.Word.COULD_NOT_JUDGE: 28,
}
YOUNG_CHECK_DAYS = 84
SHARED_CHECK_DAYS = 91
NEW_SADDLE_CHECK_DAYS = 28
NEW_SADDLE_FOR = timedelta(days=28)


@transaction.atomic
def sign_verdict(
    *,
    pairing: Pairing,
    visit: "Visit",
    word: str,
    confidence: str,
    signed_by: "User",
    signed_at: datetime | None = None,
    expires_on: date | None = None,
    **values: Any,
) -> Verdict:
    """Sign the verdict of a pairing at a visit; signing again replaces it, the history keeps both.

    Without `expires_on` the default rule is used, counted from the day of signing. A next check
    is taken as given; `default_next_check` proposes one.
    """
    when = signed_at or timezone.now()
    verdict = Verdict.objects.filter(pairing=pairing, visit=visit).first() or Verdict(
        pairing=pairing, visit=visit
    )
    signed = {
        **values,
        "word": word,
        "confidence": confidence,
        "signed_by": signed_by,
        "signed_at": when,
        "expires_on": expires_on or default_expiry(pairing, timezone.localdate(when)),
    }
    return store(verdict, **signed)


def is_young(pairing: Pairing, day: date) -> bool:
    age = pairing.horse.age_years_on(day)
    return age is not None and age < YOUNG_UNTIL_YEARS


def is_shared(pairing: Pairing) -> bool:
    """A saddle now used on other horses too is part of a string."""
    others = Pairing.objects.filter(saddle_id=pairing.saddle_id, to_date__isnull=True)
    return others.exclude(horse_id=pairing.horse_id).exists()


def default_expiry(pairing: Pairing, day: date) -> date:
    """Return when a verdict of `day` stops holding."""
    if is_young(pairing, day) or is_shared(pairing):
        return day + EXPIRES_AFTER_WHEN_CHANGING
    return day + EXPIRES_AFTER


def default_next_check(pairing: Pairing, day: date, word: str) -> date | None:
    """Return the day to propose for the next check: the soonest that any reason asks for."""
    days = NEXT_CHECK_DAYS[word]
    if days is None:
        return None
    reasons = [days]
    if is_young(pairing, day):
        reasons.append(YOUNG_CHECK_DAYS)
    if is_shared(pairing):
        reasons.append(SHARED_CHECK_DAYS)
    if timedelta(0) <= day - pairing.from_date < NEW_SADDLE_FOR:
        reasons.append(NEW_SADDLE_CHECK_DAYS)
    return day + timedelta(days=min(reasons))
