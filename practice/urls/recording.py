"""/visits/<visit>/horses/<horse>/ recording, step by step, and /visits/<visit>/finish/."""

from django.urls import path, register_converter

from horses.models import Station
from practice.selectors.steps import HORSE_STEPS, PAIRING_STEPS
from practice.views import recording


class HorseStepConverter:
    """Only the known steps, so that other pages may live beside them."""

    regex = "|".join((*HORSE_STEPS, "sections"))

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


class PairingStepConverter(HorseStepConverter):
    regex = "|".join(PAIRING_STEPS)


class BackStepConverter(HorseStepConverter):
    regex = "|".join((*(station.lower() for station in Station.values), "lines"))


register_converter(BackStepConverter, "back_step")
register_converter(HorseStepConverter, "horse_step")
register_converter(PairingStepConverter, "pairing_step")

HORSE = "visits/<int:visit_pk>/horses/<int:horse_pk>/"

urlpatterns = [
    path(HORSE, recording.record_horse, name="record_horse"),
    path(f"{HORSE}<horse_step:step>/", recording.record_step, name="record_step"),
    path(
        f"{HORSE}pairings/<int:pairing_pk>/<pairing_step:step>/",
        recording.record_pairing_step,
        name="record_pairing_step",
    ),
    path(f"{HORSE}tracings/<int:pk>/", recording.tracing_read, name="tracing_read"),
    path(f"{HORSE}tracings/<int:pk>/photo.jpg", recording.tracing_photo, name="tracing_photo"),
    path(f"{HORSE}tracings/<int:pk>/delete/", recording.tracing_remove, name="tracing_remove"),
    path(f"{HORSE}tracings/<back_step:step>/", recording.tracing_add, name="tracing_add"),
    path("visits/<int:visit_pk>/finish/", recording.visit_finish, name="visit_finish"),
]
