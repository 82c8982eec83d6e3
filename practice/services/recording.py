"""What recording a visit does besides the measurements themselves."""

from typing import Any

from django.db import transaction

from horses.services.records import store
from practice.models import StepDraft, Visit, VisitHorse
from practice.services.visits import set_visit_state


@transaction.atomic
def take_history(*, visit_horse: VisitHorse, values: dict[str, Any]) -> VisitHorse:
    """Write down what was told before the horse is touched."""
    return store(visit_horse, **values, history_taken=True)


@transaction.atomic
def keep_draft(*, visit_horse: VisitHorse, step: str, data: dict[str, list[str]]) -> StepDraft:
    """Keep what was typed at a step and could not be stored, so that nothing typed is lost."""
    draft = StepDraft.objects.filter(visit_horse=visit_horse, step=step).first() or StepDraft(
        visit_horse=visit_horse, step=step
    )
    return store(draft, data=data)


@transaction.atomic
def drop_draft(*, visit_horse: VisitHorse, step: str) -> VisitHorse:
    """Forget a draft once its step is stored."""
    StepDraft.objects.filter(visit_horse=visit_horse, step=step).delete()
    return visit_horse


def begin_recording(*, visit: Visit) -> Visit:
    """Mark a booked visit as underway when the first thing is recorded."""
    if visit.state != Visit.State.BOOKED:
        return visit
    return set_visit_state(visit=visit, state=Visit.State.UNDERWAY)


def finish_recording(*, visit: Visit) -> Visit:
    """Mark a visit as recorded; what is still empty stays empty and can be filled in later."""
    return set_visit_state(visit=visit, state=Visit.State.RECORDED)
