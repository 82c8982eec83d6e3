"""From a stored photo and its marks to half-widths or heights in mm."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from horses.digitising.errors import TracingError
from horses.digitising.photos import grey_of
from horses.digitising.profile import Points, Section, heights_of, section_of
from horses.digitising.rectify import Array, Paper, from_corners, from_marks, in_order
from horses.digitising.squares import find_squares
from horses.digitising.trace import Followed, darkness_of, evenly, follow, with_mark, within
from horses.models import DEPTHS_MM, TracingPhoto
from horses.models.measurement import STATION_DISTANCE_MM

SHEETS_MM: dict[str, tuple[float, float]] = {  # ISO 216, and ANSI/ASME Y14.1 sizes A and B
    "a4": (297.0, 210.0),
    "a3": (420.0, 297.0),
    "letter": (279.4, 215.9),
    "double_letter": (431.8, 279.4),
}
SHOWN_SPACING_PX = 6.0
LINE_STEP_MM = 50.8  # half the distance between two stations

Marks = dict[str, list[list[float]]]


@dataclass(frozen=True)
class Reading:
    """What a photo says so far; `problem` is why it says no more, `mark` where to look.

    Drawn things are in pixels of the photo: `line` the followed line, `grid` crossings of squares
    or corners that were found.
    """

    line: list[list[float]] = field(default_factory=list)
    grid: list[list[float]] = field(default_factory=list)
    paper: dict[str, Any] = field(default_factory=dict)
    section: Section | None = None
    heights: Points = field(default_factory=list)
    scale_error: float | None = None
    problem: str = ""
    mark: str = ""

    @property
    def is_whole(self) -> bool:
        return bool(self.section or self.heights)


class _Picture:
    """The stored photo, unpacked only when a reading gets as far as needing it."""

    def __init__(self, tracing: TracingPhoto) -> None:
        self.tracing = tracing

    @cached_property
    def grey(self) -> Array:
        with self.tracing.image.open("rb") as file:
            return grey_of(file)

    @cached_property
    def dark(self) -> Array:
        return darkness_of(self.grey)


def read_tracing(tracing: TracingPhoto) -> Reading:
    """Return what can be read from a photo with the marks it has now."""
    picture = _Picture(tracing)
    try:
        found = _paper_of(tracing, picture)
    except TracingError as problem:
        return Reading(problem=str(problem), mark=problem.mark)
    paper = _paper(found)
    seen = Reading(grid=found["grid"], paper=found, scale_error=paper.scale_error)
    try:
        return _followed(tracing, picture, paper, seen)
    except TracingError as problem:
        return _with(seen, problem=str(problem), mark=problem.mark)


def _with(reading: Reading, **changed: Any) -> Reading:
    return Reading(**{**vars(reading), **changed})


# --- The scale ----------------------------------------------------------------------------------


def _paper_of(tracing: TracingPhoto, picture: _Picture) -> dict[str, Any]:
    """Return the paper as stored, found anew when the scale or its marks changed."""
    of = _found_from(tracing)
    if tracing.paper.get("of") == of:
        return dict(tracing.paper)
    paper, grid = _found(tracing, picture)
    return {
        "of": of,
        "to_mm": paper.to_mm.ravel().tolist(),
        "scale_error": paper.scale_error,
        "box_mm": paper.box_mm,
        "grid": np.round(grid, 1).tolist(),
    }


def _paper(found: dict[str, Any]) -> Paper:
    box = tuple(found["box_mm"]) if found.get("box_mm") else None
    return Paper(np.array(found["to_mm"]).reshape(3, 3), float(found["scale_error"]), box)


def _found_from(tracing: TracingPhoto) -> list[Any]:
    """Return all that the scale depends on."""
    scale, marks = TracingPhoto.Scale, tracing.marks
    if tracing.scale == scale.CORNERS:
        return [tracing.scale, *(_sheet_mm(tracing) or ()), marks.get("corners")]
    if tracing.scale == scale.SQUARES:
        return [tracing.scale, tracing.square_mm]
    return [tracing.scale, tracing.apart_mm, marks.get("marks")]


def _sheet_mm(tracing: TracingPhoto) -> tuple[float, float] | None:
    known = SHEETS_MM.get(tracing.sheet)
    if known:
        return known
    if tracing.width_mm is None or tracing.height_mm is None:
        return None
    return tracing.width_mm, tracing.height_mm


def _found(tracing: TracingPhoto, picture: _Picture) -> tuple[Paper, Array]:
    if tracing.scale == TracingPhoto.Scale.SQUARES:
        if tracing.square_mm is None:
            raise TracingError("Enter the side of one square.", "square_mm")
        squares = find_squares(picture.dark, tracing.square_mm)
        return squares.paper, squares.crossings[:: max(1, len(squares.crossings) // 400)]
    if tracing.scale == TracingPhoto.Scale.CORNERS:
        return _from_corners(tracing, picture)
    marked = tracing.marks.get("marks", [])
    if len(marked) < 2:
        raise TracingError("Mark the two points a known distance apart.", "marks")
    if tracing.apart_mm is None:
        raise TracingError("Enter how far apart the two marks are.", "apart_mm")
    return from_marks(marked[0], marked[1], tracing.apart_mm), np.array(marked[:2])


def _from_corners(tracing: TracingPhoto, picture: _Picture) -> tuple[Paper, Array]:
    corners = tracing.marks.get("corners", [])
    if len(corners) < 4:
        raise TracingError(f"Mark the four corners of the sheet; {len(corners)} so far.", "corners")
    size = _sheet_mm(tracing)
    if size is None:
        raise TracingError("Enter the size of the sheet.", "width_mm")
    paper = from_corners(corners, *size, picture.grey)
    width, height = np.ptp(paper.mm(in_order(corners)), axis=0)
    long, short = max(size), min(size)
    box = (long, short) if width >= height else (short, long)
    return paper, paper.pixels([(0, 0), (box[0], 0), box, (0, box[1])])


# --- The line -----------------------------------------------------------------------------------


def _followed(tracing: TracingPhoto, picture: _Picture, paper: Paper, seen: Reading) -> Reading:
    marks: Marks = tracing.marks
    if len(marks.get("line", [])) < 2:
        raise TracingError(_ask_for_line(tracing), "line")
    dark = within(picture.dark, paper.outline())
    found = follow(dark, _line_marks(tracing), paper.px_per_mm(marks["line"][0]))
    shown = np.round(evenly(found.line, SHOWN_SPACING_PX), 1).tolist()
    seen = _with(seen, line=shown)
    try:
        return _measured(tracing, paper, found, seen)
    except TracingError as problem:
        return _with(seen, problem=str(problem), mark=problem.mark)


def _line_marks(tracing: TracingPhoto) -> Array:
    """Return the marks on the line; that of the midline lies on it as well."""
    line, zero = np.array(tracing.marks["line"]), tracing.marks.get("zero", [])
    return with_mark(line, zero[0]) if tracing.is_section and zero else line


def _ask_for_line(tracing: TracingPhoto) -> str:
    if tracing.is_section:
        return "Mark the line: its left end (near side), then its right end."
    return "Mark the line: its front end, then its rear end."


def _measured(tracing: TracingPhoto, paper: Paper, found: Followed, seen: Reading) -> Reading:
    zero = tracing.marks.get("zero", [])
    if not zero:
        name = "midline" if tracing.is_section else "rear edge of the blade"
        raise TracingError(f"Mark where the {name} crosses the line.", "zero")
    line, at = paper.mm(found.line), paper.mm(zero[:1])[0]
    level = _level(tracing, paper, line)
    if tracing.is_section:
        return _with(seen, section=section_of(line, at, level, DEPTHS_MM))
    up = _up(tracing, paper, np.array(zero[0]))
    return _with(seen, heights=heights_of(line, at, level, _places(tracing), up=up))


def _level(tracing: TracingPhoto, paper: Paper, line: Array) -> Array:
    """Return the level as marked, or the paper's own: the edge along which the line runs."""
    marked = tracing.marks.get("level", [])
    if len(marked) >= 2:
        one, other = paper.mm(marked[:2])
        return np.asarray(other - one)
    if tracing.scale == TracingPhoto.Scale.MARKS:
        raise TracingError("Mark two points that were level: two marks alone do not tell.", "level")
    across, down = np.abs(line[-1] - line[0])
    return np.array([1.0, 0.0]) if across >= down else np.array([0.0, 1.0])


def _up(tracing: TracingPhoto, paper: Paper, at: Array) -> Array:
    step = np.array([0.0, 5.0 if tracing.is_upside_down else -5.0])
    one, other = paper.mm([at, at + step])
    return np.asarray(other - one)


def _places(tracing: TracingPhoto) -> list[float]:
    """Return where heights are read: the blade, each station, and halfway between."""
    first = STATION_DISTANCE_MM["S1"]
    reach = tracing.measurement.support_length_mm or 700.0
    steps = [round(first + n * LINE_STEP_MM, 1) for n in range(20)]
    return [0.0, *(place for place in steps if place <= reach + 1.0)]
