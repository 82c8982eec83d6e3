"""Taking in a photo of a tracing, and marking on it."""

import json
from math import isfinite
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from horses.digitising.photos import CleanPhoto, PhotoRefused, clean_photo
from horses.forms.fields import LengthField, TypedForm
from horses.models import LineProfile, TracingPhoto

KINDS = {"corners": 4, "marks": 2, "line": 40, "zero": 1, "level": 2}  # most marks of each kind
TRACE_WORDS = [(1, "First time"), (2, "Second time")]


class PhotoField(forms.FileField):
    """A photo from a phone or a file; cleaned to a `CleanPhoto`."""

    default_error_messages = {
        "required": "Take or choose a photo.",
        "empty": "This file is empty. Take or choose the photo again.",
    }
    widget = forms.FileInput(attrs={"accept": "image/*,.heic,.heif", "capture": "environment"})

    def clean(self, data: Any, initial: Any = None) -> CleanPhoto:
        upload: UploadedFile[Any] = super().clean(data, initial)
        try:
            return clean_photo(upload, upload.size or 0)
        except PhotoRefused as problem:
            raise ValidationError(str(problem), code="refused") from problem


class TracingAddForm(forms.Form):
    """Which tracing, and its photo."""

    shows = forms.ChoiceField(label="Which line", choices=LineProfile.Line)
    trace = forms.TypedChoiceField(
        label="Which of the two times", choices=TRACE_WORDS, coerce=int, widget=forms.RadioSelect
    )
    photo = PhotoField(label="Photo of the tracing")

    def __init__(self, *args: Any, station: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.station = station
        if station:
            del self.fields["shows"]
        else:
            del self.fields["trace"]

    @property
    def shows_value(self) -> str:
        return self.station or str(self.cleaned_data["shows"])

    @property
    def trace_value(self) -> int:
        return int(self.cleaned_data.get("trace", 1))


class TracingMarksForm(TypedForm):
    """Scale and marks of one photo. What is missing is no error: it is asked for on the photo."""

    scale = forms.ChoiceField(
        label="What gives the scale", choices=TracingPhoto.Scale, widget=forms.RadioSelect
    )
    sheet = forms.ChoiceField(label="Size of the sheet", choices=TracingPhoto.Sheet)
    width_mm = LengthField(label="Width of the sheet", hard=(50, 3000))
    height_mm = LengthField(label="Height of the sheet", hard=(50, 3000))
    square_mm = LengthField(
        label="Side of one square",
        default_unit="mm",
        hard=(3, 60),
        usual=(4, 26),
        help_text="The smallest squares you can see on the photo.",
    )
    apart_mm = LengthField(label="Distance of the two marks", hard=(20, 2000))
    marks = forms.CharField(required=False, widget=forms.HiddenInput)
    is_upside_down = forms.BooleanField(label="The tracing is upside down here", required=False)

    def __init__(self, *args: Any, tracing: TracingPhoto, imperial: bool, **kwargs: Any) -> None:
        kwargs.setdefault("initial", self._initial(tracing))
        super().__init__(*args, **kwargs)
        self.tracing = tracing
        for name in ("width_mm", "height_mm", "apart_mm"):
            self.fields[name].use_unit("in" if imperial else "cm")  # type: ignore[attr-defined]
        if tracing.is_section:
            del self.fields["is_upside_down"]  # a back seen from behind is high in the middle

    @staticmethod
    def _initial(tracing: TracingPhoto) -> dict[str, Any]:
        lengths = ("width_mm", "height_mm", "square_mm", "apart_mm")
        stored = {name: getattr(tracing, name) for name in lengths}
        texts = {n: f"{value:g} mm" for n, value in stored.items() if value is not None}
        return {
            **texts,
            **{name: text for name, text in tracing.typed.items() if name in lengths},
            "scale": tracing.scale,
            "sheet": tracing.sheet,
            "marks": json.dumps(tracing.marks),
            "is_upside_down": tracing.is_upside_down,
        }

    def clean_marks(self) -> dict[str, list[list[float]]]:
        text = self.cleaned_data["marks"]
        if not text:
            return {}
        try:
            said = json.loads(text)
            marks = {kind: self._points(said[kind], kind) for kind in KINDS if said.get(kind)}
        except (ValueError, TypeError, KeyError, AttributeError) as problem:
            raise ValidationError("The marks did not arrive whole. Mark again.") from problem
        return marks

    def _points(self, said: Any, kind: str) -> list[list[float]]:
        points = [[float(x), float(y)] for x, y in said]
        within = all(
            isfinite(x)
            and isfinite(y)
            and 0 <= x <= self.tracing.width_px - 1
            and 0 <= y <= self.tracing.height_px - 1
            for x, y in points
        )
        if not within or len(points) > KINDS[kind]:
            raise ValueError(kind)
        return points

    def values(self) -> dict[str, Any]:
        """Return what can be stored, which may be less than what was typed."""
        return {n: v for n, v in self.cleaned_data.items() if n != "sure"}
