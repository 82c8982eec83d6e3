"""What changed for a horse, and how its back felt before and after."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from horses.charts.stretches import HEAD, cells, stretches_chart
from horses.selectors.felt_values import felt_values
from horses.statistics.change import Trend
from horses.statistics.stretches import steps_of, stretches_of
from horses.views.downloads import csv_file
from practice.selectors import horse_page as page


def what_changed(request: HttpRequest, pk: int) -> HttpResponse:
    horse = page.horse_for_page(pk)
    felt = felt_values(horse.pk)
    if request.GET.get("format") == "csv":
        return csv_file(f"soreness-{horse.pk}", HEAD, [cells(row) for row in felt])
    changes = page.changes_in(page.pairings_through_time(horse))
    stretches = stretches_of(felt, changes)
    context = {
        "horse": horse,
        "chart": stretches_chart(felt, stretches, changes) if felt else None,
        "steps": list(reversed(steps_of(stretches))),
        "now": stretches[-1],
        "trend_words": _trend_words(stretches[-1].trend),
    }
    return render(request, "practice/what_changed.html", context)


def _trend_words(trend: Trend | None) -> str:
    """Return the trend since the last change in words, nothing where it cannot be told."""
    if trend is None:
        return ""
    if not trend.is_notable:
        return f"No trend that stands out from chance since then ({trend.count} checks)."
    year = 365.25
    word = "sorer" if trend.slope > 0 else "less sore"
    low, high = sorted((trend.low * year, trend.high * year))
    return (
        f"Getting {word} since then: {trend.slope * year:+.1f} of a score in a year "
        f"(90 %: {low:+.1f} to {high:+.1f}; {trend.count} checks)."
    )
