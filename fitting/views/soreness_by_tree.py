"""Soreness by tree over the whole practice."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fitting.adapters.soreness_by_tree import TreesPage, trees_page
from fitting.charts.soreness_by_tree import HEAD, cells, soreness_by_tree_chart
from fitting.selectors.soreness_by_tree import attributed, saddles_by_key
from horses.selectors.felt_values import felt_values
from horses.units import show_length
from horses.views.downloads import csv_file
from horses.views.saving import imperial as is_imperial


def soreness_by_tree(request: HttpRequest) -> HttpResponse:
    page = _page(request)
    if request.GET.get("format") == "csv":
        return csv_file("soreness-by-tree", HEAD, [cells(row) for row in page.rows])
    chart = soreness_by_tree_chart(page.rows) if page.rows else None
    return render(request, "fitting/soreness_by_tree.html", {"page": page, "chart": chart})


def _page(request: HttpRequest) -> TreesPage:
    found = attributed(felt_values())
    saddles = saddles_by_key(list({used.key for _, used in found.felt}))
    imperial = is_imperial(request)
    return trees_page(found, saddles, lambda mm: show_length(mm, imperial=imperial))
