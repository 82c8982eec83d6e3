"""Steps that measure the shape of the back: five sections and the lines along it."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.http import QueryDict

from horses import units
from horses.adapters.profiles import sagitta_mm
from horses.forms.profiles import (
    BAR_LINES,
    DEEP,
    LINES,
    REPEAT_FROM_MM,
    SIDE_WORDS,
    SIDES,
    TRACES,
    LinesForm,
    Place,
    SectionForm,
    height_name,
    lines_initial,
    read_mm,
    section_initial,
    width_name,
)
from horses.measuring_error import MeasuringError
from horses.models import (
    DEPTHS_MM,
    STATION_DISTANCE_MM,
    BackMeasurement,
    LineProfile,
    ProfileMethod,
    SectionProfile,
    Station,
)
from horses.selectors.repeatability import measuring_error
from horses.services.measurements import (
    clear_line,
    clear_section,
    record_back_measurement,
    record_line,
    record_section,
    station_distance_mm,
)
from practice.selectors.recording import last_measurement_for, measurement_of, photos_of
from practice.views.recording.base import Step
from practice.views.recording.drawing import Points, draw_section
from practice.views.recording.repeats import apart_rows, repeats


@dataclass(frozen=True)
class StationLink:
    slug: str
    name: str


STATION_LINKS = [StationLink(station.lower(), station) for station in Station.values]


class BackStep(Step):
    """A step that writes to the back measurement of this visit."""

    @cached_property
    def measurement(self) -> BackMeasurement | None:
        return measurement_of(self.visit_horse)

    def needed_measurement(self) -> BackMeasurement:
        """Return the measurement of this visit, made now if it is the first thing measured."""
        return self.measurement or record_back_measurement(
            horse=self.horse,
            measured_on=self.day,
            examiner=self.request.user,  # type: ignore[arg-type]
            visit=self.visit,
            values={},
        )


class SectionStep(BackStep):
    """One station, both halves, twice."""

    template = "practice/record/section.html"
    live_template = "practice/record/section_live.html"

    @property
    def station(self) -> str:
        return self.slug.upper()

    @cached_property
    def stored(self) -> list[SectionProfile]:
        return _sections(self.measurement, self.station)

    @cached_property
    def measuring_error(self) -> MeasuringError:
        return measuring_error()

    @property
    def distance_mm(self) -> float | None:
        if self.stored:
            return self.stored[0].behind_blade_mm
        return station_distance_mm(self.measurement, self.station)

    def make_form(self, data: Any = None) -> SectionForm:
        return SectionForm(
            _taken_again(data),
            initial={**section_initial(self.stored), **self._distance_text()},
            station=self.station,
            usual_distance_mm=station_distance_mm(self.measurement, self.station),
            others=self._others(),
            imperial=self.imperial,
            repeat_limit_mm=self.measuring_error.half_width_mm,
        )

    def _distance_text(self) -> dict[str, str]:
        usual = station_distance_mm(self.measurement, self.station)
        if not self.stored or self.stored[0].behind_blade_mm == usual:
            return {}
        return {"behind_blade_mm": f"{self.stored[0].behind_blade_mm:.10g} mm"}

    def _others(self) -> dict[str, dict[str, float]]:
        """Return the widths at S1, S3 and S5, which should grow toward the rear."""
        if self.station not in {"S1", "S3", "S5"}:
            return {}
        return {
            station: {
                section.side: width
                for section in _sections(self.measurement, station)
                if section.trace == 1
                for depth, width in section.points
                if depth == DEEP
            }
            for station in ("S1", "S3", "S5")
            if station != self.station
        }

    def store(self, form: SectionForm) -> None:
        measurement = self.needed_measurement()
        for trace in TRACES:
            for side in SIDES:
                self._store_half(measurement, form, side, trace)

    def _store_half(
        self, measurement: BackMeasurement, form: SectionForm, side: str, trace: int
    ) -> None:
        points = form.points(side, trace)
        if not points:
            clear_section(measurement=measurement, station=self.station, side=side, trace=trace)
            return
        record_section(
            measurement=measurement,
            station=self.station,
            side=side,
            trace=trace,
            points=points,
            behind_blade_mm=form.cleaned_data["behind_blade_mm"],
            typed=form.typed_of(side, trace),
        )

    def live(self, form: SectionForm) -> dict[str, Any]:
        traces = {(side, trace): _now(form, side, trace) for trace in TRACES for side in SIDES}
        return {
            "stations": STATION_LINKS,
            "distance_mm": self.distance_mm,
            "traces": form.traces(),
            "drawing": draw_section(traces, self.last_points()),
            "apart": (rows := apart_rows(form)),
            "repeats": repeats(rows),
            "measuring_error": self.measuring_error,
            "repeat_from_mm": REPEAT_FROM_MM,
            "photos": photos_of(self.visit_horse, [self.station]),
            "methods": method_words(self.stored),
        }

    def last_points(self) -> dict[str, Points]:
        """Return last visit's halves of this station, the first time before the second."""
        last = _sections(last_measurement_for(self.visit_horse), self.station)
        return {section.side: section.points for section in reversed(last)}


def _taken_again(data: Any) -> Any:
    """Empty the second time of one side, when its button was pressed."""
    side = data.get("retake", "") if isinstance(data, QueryDict) else ""
    if side not in SIDES:
        return data
    emptied = data.copy()
    for depth in DEPTHS_MM:
        emptied[width_name(side, 2, depth)] = ""
    return emptied


def method_words(profiles: Iterable[SectionProfile | LineProfile]) -> list[str]:
    """Return which of these numbers were read from a photo, and how well its scale is known."""
    words = []
    for profile in profiles:
        if profile.method != ProfileMethod.TRACING:
            continue
        error = "" if profile.scale_error is None else f", scale ±{profile.scale_error:.1%}"
        words.append(f"{_name_of(profile)}: {profile.get_method_display().lower()}{error}")
    return words


def _name_of(profile: SectionProfile | LineProfile) -> str:
    if isinstance(profile, LineProfile):
        return str(profile.get_line_display())
    return f"{SIDE_WORDS[profile.side]}, {'first' if profile.trace == 1 else 'second'} time"


def _sections(measurement: BackMeasurement | None, station: str) -> list[SectionProfile]:
    if measurement is None:
        return []
    return [section for section in measurement.sections.all() if section.station == station]


def _now(form: SectionForm, side: str, trace: int) -> Points:
    """Return what stands in the table now, stored or not, without what cannot be read."""
    found = []
    for depth in DEPTHS_MM:
        width = read_mm(str(form[width_name(side, trace, depth)].value() or ""))
        if width is not None and 0 <= width <= 400:
            found.append([float(depth), width])
    return found


class LinesStep(BackStep):
    """Midline and both bar lines, lengthwise."""

    template = "practice/record/lines.html"
    live_template = "practice/record/lines_live.html"

    @cached_property
    def stored(self) -> list[LineProfile]:
        if self.measurement is None:
            return []
        return [line for line in self.measurement.lines.all() if line.trace == 1]

    def make_form(self, data: Any = None) -> LinesForm:
        return LinesForm(
            data,
            initial={**lines_initial(self.stored), **self._off_midline_text()},
            places=self._places(),
            imperial=self.imperial,
        )

    def _off_midline_text(self) -> dict[str, str]:
        for line in self.stored:
            if line.line in BAR_LINES:
                typed: str = line.typed.get("off_midline_mm", "")
                return {"off_midline_mm": typed or f"{line.off_midline_mm:.10g} mm"}
        return {}

    def _places(self) -> list[Place]:
        """Return the chalk marks, and any other places at which a height is stored."""
        marks = {0.0: "blade", **{STATION_DISTANCE_MM[s]: s for s in STATION_DISTANCE_MM}}
        end = station_distance_mm(self.measurement, "S5")
        if end is not None:
            marks[end] = "S5"
        for line in self.stored:
            for distance, _ in line.points:
                if not any(abs(distance - mark) < 0.5 for mark in marks):
                    marks[distance] = ""
        return [
            Place(distance, self._place_words(distance, marks[distance]))
            for distance in sorted(marks)
        ]

    def _place_words(self, distance_mm: float, mark: str) -> str:
        shown = units.show_length(distance_mm, imperial=self.imperial)
        return f"{mark}, {shown}" if mark else shown

    def store(self, form: LinesForm) -> None:
        measurement = self.needed_measurement()
        off = form.cleaned_data["off_midline_mm"]
        for line in LINES:
            points = form.points(line)
            if points:
                typed = form.typed_of(line)
                if line in BAR_LINES and off is not None:
                    typed["off_midline_mm"] = form.typed["off_midline_mm"]
                record_line(
                    measurement=measurement,
                    line=line,
                    points=points,
                    typed=typed,
                    **({} if off is None else {"off_midline_mm": off}),
                )
            else:
                clear_line(measurement=measurement, line=line)

    def live(self, form: LinesForm) -> dict[str, Any]:
        return {
            "rows": form.rows(),
            "dips": [
                (LineProfile.Line(line).label, sagitta_mm(self._now(form, line))) for line in LINES
            ],
            "photos": photos_of(self.visit_horse, LINES),
            "methods": method_words(self.stored),
        }

    def _now(self, form: LinesForm, line: str) -> Points:
        found = []
        for place in form.places:
            height = read_mm(str(form[height_name(line, place.distance_mm)].value() or ""))
            if height is not None:
                found.append([place.distance_mm, height])
        return found
