"""Cross-sections and lengthwise profiles, as tables of typed numbers."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django.core.exceptions import ValidationError
from django.forms import BoundField

from horses import units
from horses.forms.fields import LengthField, TypedForm
from horses.measuring_error import DEFAULT_MM, HALF_WIDTH
from horses.models import DEPTHS_MM, LineProfile
from horses.units import MM_PER_INCH

TRACES = (1, 2)
SIDES = ("L", "R")
SIDE_WORDS = {"L": "Left", "R": "Right"}
SHALLOW, DEEP = 30, 150
# The two times a curve is laid on are compared from 30 mm down: above that a millimetre of height
# is several of width. How far apart they may lie is the measuring error of the practice.
REPEAT_FROM_MM = SHALLOW
SIDES_USUAL_MM = 8.0
SIDES_HARD_MM = 60.0

Limits = tuple[float, float]
# Half-widths [mm]: (hard, usual) at 30 and at 150 mm depth; from memory, not verified. S2 and S4
# lie between their neighbours.
HALF_WIDTHS: dict[str, dict[int, tuple[Limits, Limits]]] = {
    "S1": {SHALLOW: ((25, 120), (50, 80)), DEEP: ((80, 260), (135, 190))},
    "S2": {SHALLOW: ((25, 150), (60, 90)), DEEP: ((95, 300), (155, 210))},
    "S3": {SHALLOW: ((35, 150), (70, 100)), DEEP: ((110, 300), (180, 230))},
    "S4": {SHALLOW: ((35, 170), (80, 110)), DEEP: ((120, 320), (190, 240))},
    "S5": {SHALLOW: ((45, 170), (90, 120)), DEEP: ((130, 320), (200, 250))},
}
ANY_WIDTH: Limits = (0, 320)


def width_name(side: str, trace: int, depth: int) -> str:
    return f"{side}{trace}_{depth}"


def is_repeat_asked(depth_mm: float, apart_mm: float | None, limit_mm: float) -> bool:
    """Tell whether two tracings this far apart at a depth are worth taking again."""
    return apart_mm is not None and depth_mm >= REPEAT_FROM_MM and apart_mm >= limit_mm


def read_mm(text: str) -> float | None:
    """Return what a half-width or height says in mm, None when it cannot be read."""
    try:
        return units.read_length_mm(text, default_unit="mm") if text.strip() else None
    except units.CannotRead:
        return None


def exact_text(value_mm: float) -> str:
    return f"{value_mm:.10g}"


@dataclass(frozen=True)
class DepthRow:
    """One depth of one trace: its two fields."""

    depth: int
    left: BoundField
    right: BoundField


class SectionForm(TypedForm):
    """One station: half-widths left and right, the curve laid on twice.

    `others` maps a neighbouring station to {side: half-width at 150 mm}, for the question whether
    the back really narrows toward the rear. Two times further apart than `repeat_limit_mm` are
    asked about.
    """

    def __init__(
        self,
        *args: Any,
        station: str,
        usual_distance_mm: float | None,
        others: dict[str, dict[str, float]],
        imperial: bool = True,
        repeat_limit_mm: float = DEFAULT_MM[HALF_WIDTH],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.station, self.others = station, others
        self.repeat_limit_mm = repeat_limit_mm
        self.usual_distance_mm = usual_distance_mm
        self.fields["behind_blade_mm"] = LengthField(
            label="Distance behind the blade",
            default_unit="in" if imperial else "cm",
            hard=(0, 28 * MM_PER_INCH),
        )
        for trace in TRACES:
            for depth in DEPTHS_MM:
                for side in SIDES:
                    self.fields[width_name(side, trace, depth)] = self._width(side, trace, depth)

    def _width(self, side: str, trace: int, depth: int) -> LengthField:
        hard, usual = HALF_WIDTHS[self.station].get(depth, (ANY_WIDTH, None))
        field = LengthField(
            default_unit="mm",
            hard=hard,
            usual=usual,
            label=f"{SIDE_WORDS[side]}, trace {trace}, {depth} mm down",
            max_length=12,
        )
        field.widget.attrs.update({"inputmode": "decimal", "aria-label": field.label})
        return field

    def traces(self) -> list[tuple[int, list[DepthRow]]]:
        """Return the rows of both traces for the page."""
        return [
            (
                trace,
                [
                    DepthRow(d, self[width_name("L", trace, d)], self[width_name("R", trace, d)])
                    for d in DEPTHS_MM
                ],
            )
            for trace in TRACES
        ]

    def clean(self) -> dict[str, Any]:
        # What cannot be right comes before what is asked: a field with an error has no value left.
        cleaned = self.cleaned_data
        if self._has_widths(cleaned) and self._distance(cleaned) is None:
            self.add_error(
                "behind_blade_mm",
                "Needed here: enter it, or the support length under “Stance and body”.",
            )
        self._check_sides(cleaned)
        for side, trace in _halves():
            self._check_half(cleaned, side, trace)
        return super().clean()

    def _has_widths(self, cleaned: dict[str, Any]) -> bool:
        return any(self._points(cleaned, side, trace) for side, trace in _halves())

    def _distance(self, cleaned: dict[str, Any]) -> float | None:
        typed: float | None = cleaned.get("behind_blade_mm")
        return self.usual_distance_mm if typed is None else typed

    def _points(self, cleaned: dict[str, Any], side: str, trace: int) -> list[list[float]]:
        named = ((depth, cleaned.get(width_name(side, trace, depth))) for depth in DEPTHS_MM)
        return [[float(depth), width] for depth, width in named if width is not None]

    def _check_half(self, cleaned: dict[str, Any], side: str, trace: int) -> None:
        for (above, wide), (depth, width) in pairwise(self._points(cleaned, side, trace)):
            name = width_name(side, trace, int(depth))
            if width <= wide:
                self.add_error(
                    name,
                    f"{SIDE_WORDS[side]} at {depth:.0f} mm: {width:g} is not more than the "
                    f"{wide:g} at {above:.0f} mm above it. The back widens downward.",
                )

    def _check_sides(self, cleaned: dict[str, Any]) -> None:
        for trace in TRACES:
            apart = self._apart(cleaned, trace)
            name = width_name("R", trace, DEEP)
            if apart is not None and apart > SIDES_HARD_MM:
                self.add_error(
                    name,
                    f"Left and right differ by {apart:.0f} mm at {DEEP} mm. More than "
                    f"{SIDES_HARD_MM:.0f} mm cannot be right: was the midline marked?",
                )

    def _apart(self, cleaned: dict[str, Any], trace: int) -> float | None:
        left, right = (cleaned.get(width_name(side, trace, DEEP)) for side in SIDES)
        return None if left is None or right is None else abs(left - right)

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        questions = super().questions_about(cleaned)
        for name, question in (*self._about_repeats(cleaned), *self._about_sides(cleaned)):
            questions[name] = " ".join(filter(None, (questions.get(name), question)))
        for name, question in self._about_order(cleaned):
            questions[name] = " ".join(filter(None, (questions.get(name), question)))
        return questions

    def _about_repeats(self, cleaned: dict[str, Any]) -> Iterator[tuple[str, str]]:
        for side in SIDES:
            apart = {depth: self._repeat(cleaned, side, depth) for depth in DEPTHS_MM}
            limit = self.repeat_limit_mm
            over = [d for d, value in apart.items() if is_repeat_asked(d, value, limit)]
            if not over:
                continue
            depth = DEEP if DEEP in over else max(over, key=lambda d: apart[d] or 0.0)
            yield (
                width_name(side, 2, depth),
                f"{SIDE_WORDS[side]}: the two traces differ by {apart[depth]:.0f} mm at "
                f"{depth} mm; less than {limit:.3g} is wanted. Take it again, or keep "
                "it?",
            )

    def _repeat(self, cleaned: dict[str, Any], side: str, depth: int) -> float | None:
        first, second = (cleaned.get(width_name(side, trace, depth)) for trace in TRACES)
        return None if first is None or second is None else abs(first - second)

    def _about_sides(self, cleaned: dict[str, Any]) -> Iterator[tuple[str, str]]:
        apart = self._apart(cleaned, 1)
        if apart is not None and SIDES_USUAL_MM < apart <= SIDES_HARD_MM:
            yield (
                width_name("R", 1, DEEP),
                f"Left and right differ by {apart:.0f} mm at {DEEP} mm. Is this right?",
            )

    def _about_order(self, cleaned: dict[str, Any]) -> Iterator[tuple[str, str]]:
        for side in SIDES:
            width = cleaned.get(width_name(side, 1, DEEP))
            for station, widths in self.others.items():
                other = widths.get(side)
                if width is None or other is None:
                    continue
                if (width - other) * (1 if self.station > station else -1) < 0:
                    yield (
                        width_name(side, 1, DEEP),
                        f"{SIDE_WORDS[side]}: {width:g} mm here and {other:g} mm at {station}. "
                        "Backs usually widen toward the rear. Is this right?",
                    )

    def points(self, side: str, trace: int) -> list[list[float]]:
        return self._points(self.cleaned_data, side, trace)

    def typed_of(self, side: str, trace: int) -> dict[str, str]:
        texts = {str(d): self.typed.get(width_name(side, trace, d), "") for d in DEPTHS_MM}
        return {depth: text for depth, text in texts.items() if text}


def _halves() -> list[tuple[str, int]]:
    return [(side, trace) for trace in TRACES for side in SIDES]


def section_initial(sections: Any) -> dict[str, str]:
    """Return the form's texts for stored sections of one station, as typed where known."""
    texts: dict[str, str] = {}
    for section in sections:
        for depth, width in section.points:
            typed = section.typed.get(f"{depth:.0f}", "")
            text = typed if read_mm(typed) == width else exact_text(width)
            texts[width_name(section.side, section.trace, int(depth))] = text
    return texts


# --- Lengthwise ---------------------------------------------------------------------------------

LINES = tuple(LineProfile.Line.values)
BAR_LINES = (LineProfile.Line.LEFT_BAR, LineProfile.Line.RIGHT_BAR)
LINE_HEIGHT_HARD: Limits = (-250, 250)


def height_name(line: str, distance_mm: float) -> str:
    return f"{line}_{round(distance_mm * 10)}"


@dataclass(frozen=True)
class Place:
    """Where a height is read: a distance behind the blade, with the chalk mark's name."""

    distance_mm: float
    words: str


@dataclass(frozen=True)
class PlaceRow:
    """One place and the fields of the three lines there."""

    place: Place
    fields: list[BoundField]


class LinesForm(TypedForm):
    """Heights along the midline and both bar lines, at the same places."""

    def __init__(
        self, *args: Any, places: list[Place], imperial: bool = True, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.places = places
        self.fields["off_midline_mm"] = LengthField(
            label="How far off the midline the bar lines run",
            default_unit="in" if imperial else "cm",
            hard=(0, 160),
            usual=(70, 110),
            help_text="Where the bars will lie: usually 3 to 4 in (75 to 100 mm).",
        )
        for place in places:
            for line in LINES:
                self.fields[height_name(line, place.distance_mm)] = self._height(line, place)

    def _height(self, line: str, place: Place) -> LengthField:
        field = LengthField(
            default_unit="mm",
            hard=LINE_HEIGHT_HARD,
            label=f"{LineProfile.Line(line).label}, {place.words}",
            max_length=12,
        )
        field.widget.attrs.update({"inputmode": "text", "aria-label": field.label})
        return field

    def rows(self) -> list[PlaceRow]:
        return [
            PlaceRow(place, [self[height_name(line, place.distance_mm)] for line in LINES])
            for place in self.places
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        for line in LINES:
            if 0 < len(self._points(cleaned, line)) < 3:
                first = height_name(line, self.places[0].distance_mm)
                self.add_error(
                    first,
                    ValidationError(
                        f"{LineProfile.Line(line).label}: at least three heights make a line."
                    ),
                )
        return cleaned

    def _points(self, cleaned: dict[str, Any], line: str) -> list[list[float]]:
        named = (
            (place.distance_mm, cleaned.get(height_name(line, place.distance_mm)))
            for place in self.places
        )
        return [[distance, height] for distance, height in named if height is not None]

    def points(self, line: str) -> list[list[float]]:
        return self._points(self.cleaned_data, line)

    def typed_of(self, line: str) -> dict[str, str]:
        texts = {
            exact_text(place.distance_mm): self.typed.get(height_name(line, place.distance_mm), "")
            for place in self.places
        }
        return {distance: text for distance, text in texts.items() if text}


def lines_initial(lines: Any) -> dict[str, str]:
    """Return the form's texts for stored lines, as typed where known."""
    texts: dict[str, str] = {}
    for profile in lines:
        for distance, height in profile.points:
            typed = profile.typed.get(exact_text(distance), "")
            texts[height_name(profile.line, distance)] = typed or exact_text(height)
    return texts
