"""Writing down a study of the practice's own repeatability."""

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from django.db import transaction

from horses.models import Horse, RepeatabilityStudy, RepeatedValue
from horses.services.records import store

if TYPE_CHECKING:
    from practice.models import User


@transaction.atomic
def start_study(*, measured_on: date, examiner: "User", note: str = "") -> RepeatabilityStudy:
    return store(RepeatabilityStudy(measured_on=measured_on, examiner=examiner), note=note)


@transaction.atomic
def record_repeats(
    *,
    study: RepeatabilityStudy,
    horse: Horse,
    values: Mapping[tuple[str, int], float | None],
) -> RepeatabilityStudy:
    """Store one horse's values [mm] by quantity and remount; an empty one is taken out."""
    stored = {(row.quantity, row.remount): row for row in study.values.filter(horse=horse)}
    for (quantity, remount), value in values.items():
        row = stored.get((quantity, remount))
        if value is None:
            if row is not None:
                row.delete()
            continue
        new = RepeatedValue(study=study, horse=horse, quantity=quantity, remount=remount)
        store(row or new, value_mm=value)
    return study
