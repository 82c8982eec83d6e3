"""Small panels one above the other over a single time axis, so that a phone can show years."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import plotly.graph_objects as go

from horses.charts.theme import LINE, SOFT, TEMPLATE
from horses.seasons import Change

LETTER_PX = 7  # room above the panels for each letter of the upright words of a mark
PLAIN_HEAD_PX = 8
AXIS_PX = 46
LEGEND_PX = 34
GAP_PX = 30  # between panels, holds the panel's title
LONGEST_MARK = 12  # letters along an upright mark; the page lists the whole words
CROWDED = 0.035  # of the span of time: marks closer than this share one line
SHARE_OF_ROOM = 0.04  # left free at both ends of the time axis
LEAST_ROOM = timedelta(days=10)
YEARS_TO_MARK_HALVES = 1.5


def axis_name(index: int, prefix: str = "y") -> str:
    return prefix if index == 0 else f"{prefix}{index + 1}"


class Panels:
    """A figure in the making: one panel per title, top to bottom, and marks of what changed.

    Everything is gathered as plain data and handed to plotly once, in `figure`: adding piece by
    piece checks the whole figure again for every piece.
    """

    def __init__(
        self,
        titles: Sequence[str],
        *,
        days: Sequence[date],
        changes: Sequence[Change] = (),
        row_px: int = 96,
    ) -> None:
        self.span = span_of(days)
        self.marks = visible_changes(changes, self.span)
        longest = max((len(_short(mark.words)) for mark in self.marks), default=0)
        self._row = row_px
        self._head = PLAIN_HEAD_PX + LETTER_PX * longest
        self._inner = self._head + len(titles) * (row_px + GAP_PX)
        self._traces: list[dict[str, Any]] = []
        self._shapes: list[dict[str, Any]] = []
        self._axes = [self._axis(index) for index in range(len(titles))]
        self._annotations = [
            _title(title, axis["domain"][1]) for title, axis in zip(titles, self._axes, strict=True)
        ]

    def _axis(self, index: int) -> dict[str, Any]:
        top = 1 - (self._head + GAP_PX + index * (self._row + GAP_PX)) / self._inner
        return {"domain": [max(top - self._row / self._inner, 0), top], "anchor": "x"}

    def line(
        self,
        index: int,
        days: Sequence[date],
        values: Sequence[float | None],
        *,
        name: str,
        line: dict[str, Any],
        marker: dict[str, Any],
        shown: bool = True,
        unit: str = "",
    ) -> None:
        """Draw one series; a missing value leaves a gap and is never joined over or zero.

        `shown` puts it in the legend; series of one name are one entry there.
        """
        self._traces.append(
            {
                "type": "scatter",
                "x": [day.isoformat() for day in days],
                "y": list(values),
                "mode": "lines+markers",
                "name": name,
                "line": line,
                "marker": marker,
                "connectgaps": False,
                "legendgroup": name,
                "showlegend": shown,
                "yaxis": axis_name(index),
                "hovertemplate": f"%{{x|%d %b %Y}}: %{{y}}{unit}",
            }
        )

    def level(self, index: int, value: float, *, dash: str) -> None:
        """Draw a line across a panel at a value."""
        across = {"xref": "paper", "x0": 0, "x1": 1}
        style = {"color": SOFT, "width": 1, "dash": dash}
        self._shapes.append(
            across
            | {"type": "line", "yref": axis_name(index), "y0": value, "y1": value, "line": style}
        )

    def axis(self, index: int, **settings: Any) -> None:
        """Change how a panel's own axis looks."""
        self._axes[index] |= settings

    def keep_open(self, index: int, values: Sequence[float | None], least: float) -> None:
        """Give a panel at least this height in its own unit, so that noise does not look big."""
        known = [value for value in values if value is not None]
        if known:
            middle, spread = (max(known) + min(known)) / 2, max(known) - min(known)
            half = max(spread * 1.2, least) / 2
            self.axis(index, range=[middle - half, middle + half])

    def figure(self) -> go.Figure:
        """Return the finished figure."""
        marks = [_mark(group) for group in _grouped(self.marks, self.span)]
        return go.Figure(
            data=self._traces,
            layout={
                "template": TEMPLATE,
                "height": self._inner + AXIS_PX + LEGEND_PX,
                "margin": {"l": 44, "r": 14, "t": LEGEND_PX, "b": AXIS_PX},
                "legend": {"y": 1, "yanchor": "bottom"},
                "annotations": [*self._annotations, *(words for _, words in marks)],
                "shapes": [*self._shapes, *_new_years(self.span), *(line for line, _ in marks)],
                "xaxis": self._time_axis(),
                **{axis_name(i, "yaxis"): axis for i, axis in enumerate(self._axes)},
            },
        )

    def _time_axis(self) -> dict[str, Any]:
        first, last = self.span
        axis: dict[str, Any] = {
            "type": "date",
            "range": [first.isoformat(), last.isoformat()],
            "anchor": axis_name(len(self._axes) - 1),
            "tickfont": {"color": SOFT},
        }
        if (last - first).days > YEARS_TO_MARK_HALVES * 365:
            axis |= {"dtick": "M6", "tickformat": "%b<br>%Y", "hoverformat": "%d %b %Y"}
        return axis


def _title(words: str, top: float) -> dict[str, Any]:
    return {
        "text": words,
        "x": 0,
        "xref": "paper",
        "xanchor": "left",
        "y": top,
        "yref": "paper",
        "yanchor": "bottom",
        "showarrow": False,
        "font": {"size": 14},
    }


def _upright(x: str, style: dict[str, Any]) -> dict[str, Any]:
    ends = {"x0": x, "x1": x, "xref": "x", "y0": 0, "y1": 1, "yref": "paper"}
    return {"type": "line", "line": style, **ends}


def _new_years(span: tuple[date, date]) -> list[dict[str, Any]]:
    years = range(span[0].year + 1, span[1].year + 1)
    return [_upright(f"{year}-01-01", {"color": LINE, "width": 1}) for year in years]


def _mark(group: Sequence[Change]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the line and the words of changes that share a mark."""
    x = group[0].day.isoformat()
    words = {
        "text": "<br>".join(_short(change.words) for change in group),
        "x": x,
        "xref": "x",
        "xanchor": "right",
        "y": 1,
        "yref": "paper",
        "yanchor": "top",
        "textangle": -90,
        "showarrow": False,
        "font": {"size": 12, "color": SOFT},
    }
    return _upright(x, {"color": SOFT, "width": 1.5, "dash": "dot"}), words


def _short(words: str) -> str:
    return words if len(words) <= LONGEST_MARK else f"{words[: LONGEST_MARK - 1]}…"


def _grouped(changes: Sequence[Change], span: tuple[date, date]) -> list[list[Change]]:
    """Put changes too close to be told apart under one mark."""
    crowded = (span[1] - span[0]) * CROWDED
    groups: list[list[Change]] = []
    for change in sorted(changes, key=lambda c: c.day):
        if groups and change.day - groups[-1][0].day <= crowded:
            groups[-1].append(change)
        else:
            groups.append([change])
    return groups


def span_of(days: Sequence[date]) -> tuple[date, date]:
    """Return the stretch of time to show: the data, with a little room at both ends."""
    room = max((max(days) - min(days)) * SHARE_OF_ROOM, LEAST_ROOM)
    return min(days) - room, max(days) + room


def visible_changes(changes: Sequence[Change], span: tuple[date, date]) -> list[Change]:
    """Return the changes inside the stretch shown; what was in use at its start stands there."""
    first, last = span
    at_start = [
        replace(change, day=first)
        for change in changes
        if change.day < first and (change.until is None or change.until >= first)
    ]
    return [*at_start, *(change for change in changes if first <= change.day <= last)]
