"""A back through all its days: the film, the same month of each year, body maps in a row."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from fitting.services.verdicts import YOUNG_UNTIL_YEARS
from horses.adapters.profiles import back_point, soreness_point
from horses.charts.film import Frame, film_chart
from horses.charts.same_month import same_month_chart
from horses.charts.theme import CENTIMETRES, INCHES
from horses.growth import growth_of, recheck_weeks
from horses.models import BackMeasurement, SorenessCheck
from horses.seasons import BackPoint
from horses.selectors.repeatability import measuring_error
from horses.selectors.seasons import (
    AT_REST,
    measurements_through_time,
    soreness_checks_through_time,
)
from horses.views.downloads import csv_file
from horses.views.saving import imperial
from practice.selectors.flags import STATION_WORDS
from practice.selectors.horse_page import horse_for_page

LATEST_MAPS = 12
HEAD = ("Day", "Station", "Side", "w3, mm", "w15, mm", "Slope, deg", "Dip, mm", "Doubtful")


def through_time(request: HttpRequest, pk: int) -> HttpResponse:
    """Show it all; `?all=1` takes doubtful measurings and every body map."""
    horse = horse_for_page(pk)
    with_all = request.GET.get("all") == "1"
    measured = list(measurements_through_time(horse))
    pairs = [(m, back_point(m)) for m in measured]
    shown = [(m, p) for m, p in pairs if with_all or not p.is_poor]
    if request.GET.get("format") == "csv":
        return csv_file(f"back-{horse.pk}", HEAD, _csv_rows([p for _, p in shown]))
    unit = INCHES if imperial(request) else CENTIMETRES
    points = [p for _, p in shown]
    age = horse.age_years_on(timezone.localdate())
    is_young = age is not None and age < YOUNG_UNTIL_YEARS
    growth = growth_of(points, STATION_WORDS, measuring_error())
    maps = _maps(list(soreness_checks_through_time(horse)))
    context = {
        "horse": horse,
        "with_all": with_all,
        "left_out": len(pairs) - len(shown),
        "film": film_chart([_frame(m) for m, _ in shown], STATION_WORDS, unit),
        "same_month": same_month_chart(points, STATION_WORDS, unit),
        "growth": growth,
        "recheck_weeks": recheck_weeks(growth, is_young=is_young),
        "is_young": is_young,
        "maps": maps if with_all else maps[-LATEST_MAPS:],
        "map_count": len(maps),
    }
    return render(request, "practice/through_time.html", context)


def _frame(measurement: BackMeasurement) -> Frame:
    """Return one day's sections, repeats of a half averaged at the depths both have."""
    traces: dict[tuple[str, str], list[list[list[float]]]] = {}
    for section in measurement.sections.all():
        traces.setdefault((section.station, section.side), []).append(section.points)
    return Frame(
        measurement.measured_on,
        {key: _mean_half(found) for key, found in traces.items()},
    )


def _mean_half(traces: Sequence[Sequence[Sequence[float]]]) -> list[tuple[float, float]]:
    deepest = min(trace[-1][0] for trace in traces)
    depths = [depth for depth, _ in traces[0] if depth <= deepest + 1e-9]
    widths = np.mean([np.interp(depths, *np.transpose(trace)) for trace in traces], axis=0)
    return [(float(width), float(depth)) for width, depth in zip(widths, depths, strict=True)]


def _maps(checks: Sequence[SorenessCheck]) -> list[dict[str, Any]]:
    """Return the body maps of the checks at rest, oldest first, one a day."""
    by_day = {}
    for check in checks:
        if check.moment in AT_REST:
            point = soreness_point(check)
            by_day[point.day] = {"day": point.day, "scores": dict(point.scores)}
    return list(by_day.values())


def _csv_rows(points: Sequence[BackPoint]) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for point in points:
        for (station, side), numbers in sorted(point.sections.items()):
            values = (numbers.w3_mm, numbers.w15_mm, numbers.slope_deg, point.rock_mm.get(side))
            shown = [None if value is None else round(value, 2) for value in values]
            doubt = "; ".join(point.problems)
            rows.append((f"{point.day:%Y-%m-%d}", station, side, *shown, doubt))
    return rows
