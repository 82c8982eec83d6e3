"""Two days of one back beside each other."""

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from fitting.adapters.back_change import back_change, section_pairs
from fitting.charts.back_change import change_map, section_pair
from horses.adapters.profiles import back_point, problems_of
from horses.change import Hollows, NumberChange, number_changes
from horses.charts.theme import CENTIMETRES, INCHES
from horses.models import BackMeasurement, Horse, Station
from horses.selectors.repeatability import measuring_error
from horses.selectors.seasons import measurements_through_time
from horses.views.downloads import csv_file
from horses.views.saving import imperial

HEAD = ("What", "Where", "Side", "Unit", "Then", "Now", "Change", "Error", "That is")
STATIONS = {station.value: str(station.label) for station in Station}
LEAST_DAYS = 2
MATTERS = {"method": "method", "coat": "coat", "examiner_id": "person measuring"}


def horse_back_change(request: HttpRequest, pk: int) -> HttpResponse:
    """Compare two measurings; without a choice the last two fit for it."""
    horse = get_object_or_404(Horse, pk=pk)
    measured = [m for m in measurements_through_time(horse) if m.sections.all()]
    chosen = _chosen(request, measured)
    if chosen is None:
        context = {"horse": horse, "measured": measured}
        return render(request, "fitting/back_change_empty.html", context)
    then, now = chosen
    error = measuring_error()
    rows = number_changes(
        back_point(then), back_point(now), (_hollows(then), _hollows(now)), STATIONS, error
    )
    if request.GET.get("format") == "csv":
        return csv_file(f"back-change-{horse.pk}", HEAD, [cells(row) for row in rows])
    unit = INCHES if imperial(request) else CENTIMETRES
    found = back_change(then, now, error)
    context = {
        "horse": horse,
        "measured": measured,
        "then": then,
        "now": now,
        "doubts": _doubts(then, now),
        "error": error,
        "head": HEAD,
        "rows": [cells(row) for row in rows],
        "beyond": [row for row in rows if row.word in {"more", "less"}],
        "found": found,
        "map": change_map(found.map, unit) if found else None,
        "sections": [
            section_pair(i, pair, unit)
            for i, pair in enumerate(section_pairs(then, now, STATIONS), start=1)
        ],
    }
    return render(request, "fitting/back_change.html", context)


def _chosen(
    request: HttpRequest, measured: Sequence[BackMeasurement]
) -> tuple[BackMeasurement, BackMeasurement] | None:
    """Return the two asked for in order of their days, by default the last two of good quality."""
    by_pk = {str(m.pk): m for m in measured}
    asked = [by_pk.get(request.GET.get(name, "")) for name in ("then", "now")]
    if asked[0] and asked[1] and asked[0] != asked[1]:
        first, second = sorted((asked[0], asked[1]), key=lambda m: (m.measured_on, m.pk))
        return first, second
    good = [m for m in measured if not problems_of(m)]
    enough = good if len(good) >= LEAST_DAYS else list(measured)
    return (enough[-2], enough[-1]) if len(enough) >= LEAST_DAYS else None


def _hollows(measurement: BackMeasurement) -> Hollows:
    return Hollows(measurement.hollow_left_mm, measurement.hollow_right_mm)


def _doubts(then: BackMeasurement, now: BackMeasurement) -> list[str]:
    """Return what makes the two hard to compare."""
    doubts = [
        f"{m.measured_on.day} {m.measured_on:%b %Y}: {', '.join(problems_of(m))}"
        for m in (then, now)
        if problems_of(m)
    ]
    for name, words in MATTERS.items():
        pair = {getattr(then, name), getattr(now, name)} - {"", None}
        if len(pair) > 1:
            doubts.append(f"another {words} on each day")
    return doubts


def cells(row: NumberChange) -> tuple[str, ...]:
    """Return one number as text."""
    side = {"L": "left", "R": "right", "M": "midline"}.get(row.side, "")
    shown = [_shown(value, row.unit) for value in (row.then, row.now)]
    change = "–" if row.change is None else _shown(row.change, row.unit, sign=True)
    where = (row.what, row.where, side, row.unit)
    return (*where, *shown, change, _shown(row.error, row.unit), row.word)


def _shown(value: float | None, unit: str, *, sign: bool = False) -> str:
    if value is None:
        return "–"
    places = {"mm": 1, "deg": 1}.get(unit, 3)
    return f"{value:{'+' if sign else ''}.{places}f}"
