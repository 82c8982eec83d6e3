"""Soreness by tree: each tree's part beside the mean of all, with its interval and counts."""

from collections.abc import Sequence
from typing import Protocol

from horses.charts.theme import ACCENT, INK, LINE_STRONG, Chart, chart, figure_of, named

ROW_PX, FRAME_PX = 46, 80


class TreeNumbers(Protocol):
    """What the chart reads of a tree."""

    @property
    def name(self) -> str: ...
    @property
    def horses(self) -> int: ...
    @property
    def checks(self) -> int: ...
    @property
    def sore_checks(self) -> int: ...
    @property
    def mean(self) -> float: ...
    @property
    def left(self) -> float | None: ...
    @property
    def right(self) -> float | None: ...
    @property
    def part(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...
    @property
    def worse(self) -> float: ...


HEAD = (
    "Tree",
    "Horses",
    "Checks",
    "With a sore place",
    "Mean score",
    "Mean left",
    "Mean right",
    "Beside the others",
    "90 % from",
    "90 % to",
    "Chance it is above",
)


def soreness_by_tree_chart(rows: Sequence[TreeNumbers]) -> Chart:
    """Return the chart of at least one tree, worst on top."""
    labels = [f"{row.name.split(',')[0]} ({row.horses} h, {row.checks} c)" for row in rows]
    trace = {
        "type": "scatter",
        "x": [row.part for row in rows],
        "y": list(range(len(rows))),
        "mode": "markers",
        "marker": {"color": ACCENT, "size": 11, "symbol": "diamond"},
        "error_x": {
            "type": "data",
            "symmetric": False,
            "array": [row.high - row.part for row in rows],
            "arrayminus": [row.part - row.low for row in rows],
            "color": INK,
            "thickness": 2,
            "width": 7,
        },
        "hovertemplate": "%{x:.2f}<extra></extra>",
    }
    zero = {
        "type": "line",
        "x0": 0,
        "x1": 0,
        "y0": 0,
        "y1": 1,
        "yref": "paper",
        "line": {"color": LINE_STRONG, "width": 1.5, "dash": "dot"},
    }
    figure = figure_of(
        [trace],
        height=FRAME_PX + ROW_PX * len(rows),
        showlegend=False,
        shapes=[zero],
        xaxis=named("Score above (right) or below the mean of all trees"),
        yaxis={
            "tickvals": list(range(len(rows))),
            "ticktext": labels,
            "range": [len(rows) - 0.5, -0.5],
        },
    )
    return chart(
        figure,
        id="soreness-by-tree",
        title="Soreness under each tree, beside the others, with 90 % intervals",
        head=HEAD,
        rows=[cells(row) for row in rows],
        note="h: horses, c: checks. The fewer there are, the closer a tree is drawn to the mean.",
    )


def cells(row: TreeNumbers) -> tuple[str, ...]:
    """Return a tree's row of text for the table and the file."""
    return (
        row.name,
        str(row.horses),
        str(row.checks),
        str(row.sore_checks),
        f"{row.mean:.2f}",
        *("–" if side is None else f"{side:.2f}" for side in (row.left, row.right)),
        f"{row.part:+.2f}",
        f"{row.low:+.2f}",
        f"{row.high:+.2f}",
        f"{100 * row.worse:.0f} %",
    )
