"""One page of a long list."""

from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest

ROWS = 25


def page_of(request: HttpRequest, rows: Any) -> Page[Any]:
    """Return the page asked for; a number out of range gives the nearest page."""
    return Paginator(rows, ROWS).get_page(request.GET.get("page"))
