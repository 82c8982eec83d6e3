"""Putting an alert off."""

from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction

from horses.models import Horse
from horses.services.records import store
from practice.alerts import TITLES
from practice.models import AlertDeferral, User


@transaction.atomic
def put_off(
    *, horse: Horse, code: str, until: date, reason: str, created_by: User
) -> AlertDeferral:
    """Keep one kind of alert of a horse quiet until a day; doing it again replaces the day."""
    if code not in TITLES:
        raise ValidationError({"code": "There is no such alert."})
    row = AlertDeferral.objects.filter(horse=horse, code=code).first() or AlertDeferral(
        horse=horse, code=code
    )
    return store(row, until=until, reason=reason, created_by=created_by)
