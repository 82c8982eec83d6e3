from practice.views.recording.overview import record_horse, visit_finish
from practice.views.recording.pages import record_pairing_step, record_step

__all__ = ["record_horse", "record_pairing_step", "record_step", "visit_finish"]
