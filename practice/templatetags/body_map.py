"""Marks of the body map for `partials/body_map.html`."""

from collections.abc import Mapping

from django import template

from horses.charts.body_map import Mark, body_marks
from horses.models import SCORE_WORDS, Site

register = template.Library()


@register.simple_tag
def body_map_marks(scores: Mapping[tuple[str, str], int | None] | None) -> list[Mark]:
    """Return the marks for {(site, side): score}; None is 'not tested', absent is 'not entered'."""
    return body_marks(scores or {}, {site.value: str(site.label) for site in Site})


@register.simple_tag
def score_words() -> dict[int, str]:
    """Return what each score means."""
    return SCORE_WORDS
