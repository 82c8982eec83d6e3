"""Writing down the safety check of a saddle and the checks on the horse."""

from datetime import date
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.db import transaction

from fitting.checks import HAND_CHECK_BY_CODE, SAFETY_ITEMS, SAFETY_STATES
from fitting.models import HandCheck, Pairing, Saddle, SafetyCheck
from horses.services.records import store

if TYPE_CHECKING:
    from practice.models import User, Visit


@transaction.atomic
def record_safety_check(
    *,
    saddle: Saddle,
    checked_on: date,
    items: dict[str, str],
    result: str,
    examiner: "User | None" = None,
    visit: "Visit | None" = None,
    repair_by: date | None = None,
    notes: str = "",
) -> SafetyCheck:
    """Create the safety check of a saddle at a visit, or change it; without a visit make one.

    `items` maps item codes to "ok", "worn" or "fail"; an absent item was not tested. A failed item
    cannot go with the result "safe".
    """
    _check_items(items, result, repair_by)
    found = None
    if visit is not None:
        found = SafetyCheck.objects.filter(saddle=saddle, visit=visit).first()
    check = found or SafetyCheck(saddle=saddle, visit=visit, examiner=examiner)
    values = {
        "checked_on": checked_on,
        "items": items,
        "result": result,
        "repair_by": repair_by,
        "notes": notes,
    }
    return store(check, **values)


@transaction.atomic
def record_hand_check(
    *,
    pairing: Pairing,
    visit: "Visit",
    phase: str,
    code: str,
    outcome: str,
    left_mm: float | None = None,
    right_mm: float | None = None,
    note: str = "",
    typed: dict[str, str] | None = None,
) -> HandCheck:
    """Create one check of a pairing at a visit, or change it."""
    spec = HAND_CHECK_BY_CODE.get(code)
    if spec is None or phase not in spec.phases:
        raise ValidationError({"code": f"There is no check {code} in the phase {phase}."})
    check = HandCheck.objects.filter(
        pairing=pairing, visit=visit, phase=phase, code=code
    ).first() or HandCheck(pairing=pairing, visit=visit, phase=phase, code=code)
    values = {
        "outcome": outcome,
        "left_mm": left_mm,
        "right_mm": right_mm,
        "note": note,
        "typed": typed or {},
    }
    return store(check, **values)


@transaction.atomic
def forget_hand_check(*, pairing: Pairing, visit: "Visit", phase: str, code: str) -> Pairing:
    """Take back a check entered by mistake: it then says nothing, not even 'not tested'."""
    for check in pairing.hand_checks.filter(visit=visit, phase=phase, code=code):
        check.delete()
    return pairing


def _check_items(items: dict[str, str], result: str, repair_by: date | None) -> None:
    known = {item.code for item in SAFETY_ITEMS}
    strange = sorted(set(items) - known) + sorted(set(items.values()) - set(SAFETY_STATES))
    if strange:
        raise ValidationError({"items": f"Not a safety item or state: {', '.join(strange)}."})
    if "fail" in items.values() and result == SafetyCheck.Result.SAFE:
        raise ValidationError({"result": "An item fails, so the saddle is not simply safe."})
    if result == SafetyCheck.Result.REPAIR and repair_by is None:
        raise ValidationError({"repair_by": "By which date must it be repaired?"})
