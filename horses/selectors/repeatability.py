"""The practice's repeatability studies, and the measuring error that follows from the latest."""

from collections import defaultdict
from collections.abc import Iterable, Mapping

from django.db.models import Count, QuerySet

from horses.measuring_error import (
    DIP,
    HALF_WIDTH,
    HOLLOW,
    MeasuringError,
    Repeatability,
    error_from,
    repeatability,
)
from horses.models import RepeatabilityStudy, RepeatedValue

KIND_OF = {"left": HALF_WIDTH, "right": HALF_WIDTH, "dip": DIP, "hollow": HOLLOW}


def studies() -> QuerySet[RepeatabilityStudy]:
    return RepeatabilityStudy.objects.select_related("examiner").annotate(
        horse_count=Count("values__horse", distinct=True), value_count=Count("values")
    )


def study_with_values(pk: int) -> QuerySet[RepeatabilityStudy]:
    return RepeatabilityStudy.objects.filter(pk=pk).prefetch_related("values__horse")


def results_of(values: Iterable[RepeatedValue]) -> dict[str, Repeatability | None]:
    """Return the repeatability of each kind of length; a horse and side are a group."""
    groups: dict[str, dict[tuple[int, str], list[float]]] = {
        kind: defaultdict(list) for kind in (HALF_WIDTH, DIP, HOLLOW)
    }
    for row in values:
        groups[KIND_OF[row.quantity]][row.horse_id, row.quantity].append(row.value_mm)
    return {kind: repeatability(list(found.values())) for kind, found in groups.items()}


def measuring_error() -> MeasuringError:
    """Return the error of the latest study that is large enough, else the stated default."""
    for study in RepeatabilityStudy.objects.prefetch_related("values")[:5]:
        found: Mapping[str, Repeatability | None] = results_of(study.values.all())
        error = error_from(found, f"the practice's own study of {study.measured_on:%d %b %Y}")
        if error.is_own:
            return error
    return MeasuringError()
