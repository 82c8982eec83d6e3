"""Pairings as their forms need them."""

from django.db.models import Q, QuerySet

from fitting.models import Pairing
from horses.models import Horse
from horses.weight import tape_mass_kg


def pairings_with_all() -> QuerySet[Pairing]:
    return Pairing.objects.select_related("horse", "saddle__tree", "pad", "rider")


def last_mass_kg(horse: Horse) -> float | None:
    """Return the horse's weight as last measured, on a scale or by tape, or None."""
    by_tape = Q(girth_mm__isnull=False, length_mm__isnull=False)
    last = horse.measurements.filter(Q(scale_mass_kg__isnull=False) | by_tape).first()
    if last is None:
        return None
    if last.scale_mass_kg is not None:
        return last.scale_mass_kg
    assert last.girth_mm is not None
    assert last.length_mm is not None
    return tape_mass_kg(girth_mm=last.girth_mm, length_mm=last.length_mm)
