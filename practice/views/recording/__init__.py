from practice.views.recording.overview import record_horse, visit_finish
from practice.views.recording.pages import record_pairing_step, record_step
from practice.views.recording.tracing import (
    tracing_add,
    tracing_photo,
    tracing_read,
    tracing_remove,
)

__all__ = [
    "record_horse",
    "record_pairing_step",
    "record_step",
    "tracing_add",
    "tracing_photo",
    "tracing_read",
    "tracing_remove",
    "visit_finish",
]
