"""A mark on the skin: what, where, since when, and how it goes."""

from datetime import date
from typing import Any

from horses.forms.fields import LengthField
from horses.forms.records import RecordForm
from horses.models import SkinMark


def _length(label: str, hard: tuple[float, float], help_text: str = "") -> LengthField:
    return LengthField(
        label=label, default_unit="mm", hard=hard, usual=hard, required=False, help_text=help_text
    )


class SkinMarkForm(RecordForm):
    """Place it by the nearest site, or by distances from blade and midline."""

    model = SkinMark
    plain = ("kind", "side", "site", "first_seen_on", "last_seen_on", "course", "note")
    size_mm = _length("Size across", (0, 400))
    behind_blade_mm = _length("Behind the blade", (-300, 1200), "From the blade's rear edge.")
    off_midline_mm = _length("Off the midline", (0, 500))

    def __init__(self, *args: Any, day: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.day = day

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        first, last = cleaned.get("first_seen_on"), cleaned.get("last_seen_on")
        if first and first > self.day:
            self.add_error("first_seen_on", "This is in the future.")
        if last and last > self.day:
            self.add_error("last_seen_on", "This is in the future.")
        if first and last and last < first:
            self.add_error("last_seen_on", "This is before it was first seen.")
        return cleaned
