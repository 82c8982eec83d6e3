"""Small panels one above the other over a single time axis, so that a phone can show years."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import plotly.graph_objects as go

from horses.charts.theme import LINE, SOFT, mark_at, new_figure
from horses.seasons import Change

LETTER_PX = 7  # room above the panels for each letter of the upright words of a mark
PLAIN_HEAD_PX = 8
AXIS_PX = 46
LEGEND_PX = 34
GAP_PX = 30  # between panels, holds the panel's title
LONGEST_MARK = 12  # letters along an upright mark; the page lists the whole words
CROWDED = 0.035  # of the span of time: marks closer than this share one line


def panels(titles: Sequence[str], *, row_px: int = 96, changes: Sequence[Change] = ()) -> go.Figure:
    """Return a figure with one panel per title, top to bottom: axes y, y2, y3 and so on."""
    longest = max((len(_short(change.words)) for change in changes), default=0)
    head = PLAIN_HEAD_PX + LETTER_PX * longest
    inner = head + len(titles) * (row_px + GAP_PX)
    figure = new_figure(height=inner + AXIS_PX + LEGEND_PX)
    figure.update_layout(
        margin={"l": 44, "r": 14, "t": LEGEND_PX, "b": AXIS_PX},
        legend={"y": 1, "yanchor": "bottom"},
    )
    for index, title in enumerate(titles):
        top = 1 - (head + GAP_PX + index * (row_px + GAP_PX)) / inner
        axis = {"domain": [max(top - row_px / inner, 0), top], "title": None, "anchor": "x"}
        figure.update_layout({axis_name(index, "yaxis"): axis})
        _title(figure, title, top)
    figure.update_xaxes(anchor=axis_name(len(titles) - 1, "y"), type="date", title=None)
    return figure


def axis_name(index: int, prefix: str = "y") -> str:
    return prefix if index == 0 else f"{prefix}{index + 1}"


def _title(figure: go.Figure, words: str, top: float) -> None:
    figure.add_annotation(
        text=words,
        x=0,
        xref="paper",
        xanchor="left",
        y=top,
        yref="paper",
        yanchor="bottom",
        showarrow=False,
        font={"size": 14},
    )


def add_line(
    figure: go.Figure,
    index: int,
    days: Sequence[date],
    values: Sequence[float | None],
    *,
    name: str,
    line: dict[str, Any],
    marker: dict[str, Any],
    shown: bool = True,
    unit: str = "",
    group: str = "",
) -> None:
    """Draw one series in a panel; a missing value leaves a gap and is never joined over or zero."""
    figure.add_trace(
        go.Scatter(
            x=list(days),
            y=list(values),
            mode="lines+markers",
            name=name,
            line=line,
            marker=marker,
            connectgaps=False,
            legendgroup=group or name,
            showlegend=shown,
            yaxis=axis_name(index),
            hovertemplate="%{x|%d %b %Y}: %{y}" + unit,
        )
    )


def add_changes(figure: go.Figure, changes: Sequence[Change], span: tuple[date, date]) -> None:
    """Mark the days on which a saddle, tree or pad changed; marks too close share one line."""
    first, last = span
    crowded = (last - first) * CROWDED
    for group in _grouped(changes, crowded):
        words = "<br>".join(_short(change.words) for change in group)
        mark_at(figure, group[0].day.isoformat(), words)


def _short(words: str) -> str:
    return words if len(words) <= LONGEST_MARK else f"{words[: LONGEST_MARK - 1]}…"


def _grouped(changes: Sequence[Change], crowded: timedelta) -> list[list[Change]]:
    groups: list[list[Change]] = []
    for change in sorted(changes, key=lambda c: c.day):
        if groups and change.day - groups[-1][0].day <= crowded:
            groups[-1].append(change)
        else:
            groups.append([change])
    return groups


def span_of(days: Sequence[date], changes: Sequence[Change]) -> tuple[date, date]:
    """Return the stretch of time to show: the data, with a little room at both ends."""
    all_days = [*days, *(c.day for c in changes if days and c.day >= min(days))]
    room = max((max(all_days) - min(all_days)) * 0.04, timedelta(days=10))
    return min(all_days) - room, max(all_days) + room


def show_span(figure: go.Figure, span: tuple[date, date]) -> None:
    """Set the time axis, and draw a hairline at each New Year."""
    first, last = span
    figure.update_xaxes(range=[first.isoformat(), last.isoformat()])
    for year in range(first.year + 1, last.year + 1):
        figure.add_vline(x=f"{year}-01-01", line={"color": LINE, "width": 1})
    years = (last - first).days / 365.25
    if years > 1.5:
        figure.update_xaxes(dtick="M6", tickformat="%b<br>%Y", hoverformat="%d %b %Y")
    figure.update_xaxes(tickfont={"color": SOFT})


def visible_changes(changes: Sequence[Change], span: tuple[date, date]) -> list[Change]:
    """Return the changes inside the stretch shown; what was in use at its start stands there."""
    first, last = span
    at_start = [
        replace(change, day=first)
        for change in changes
        if change.day < first and (change.until is None or change.until >= first)
    ]
    return [*at_start, *(change for change in changes if first <= change.day <= last)]


def keep_open(figure: go.Figure, index: int, values: Sequence[float | None], least: float) -> None:
    """Give a panel at least this much height in its own unit, so that noise does not look big."""
    known = [value for value in values if value is not None]
    if not known:
        return
    middle, spread = (max(known) + min(known)) / 2, max(known) - min(known)
    half = max(spread * 1.2, least) / 2
    axis = {"range": [middle - half, middle + half]}
    figure.update_layout({axis_name(index, "yaxis"): axis})
