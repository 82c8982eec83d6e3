"""Soreness through time with the changes marked and the median of each stretch between them."""

from collections.abc import Sequence
from datetime import date
from typing import Protocol

from horses.charts.panels import Panels
from horses.charts.theme import ACCENT, SIDE_LINES, SIDE_MARKERS, SIDE_WORDS, Chart, chart
from horses.seasons import Change
from horses.statistics.stretches import Stretch

HEAD = ("Day", "Both sides", "Left (near)", "Right (off)", "Tested of 8", "Sore")


class FeltRow(Protocol):
    """What the chart reads of one check."""

    @property
    def day(self) -> date: ...
    @property
    def value(self) -> float: ...
    @property
    def left(self) -> float | None: ...
    @property
    def right(self) -> float | None: ...
    @property
    def tested(self) -> int: ...
    @property
    def sore(self) -> int: ...


def stretches_chart(
    felt: Sequence[FeltRow], stretches: Sequence[Stretch], changes: Sequence[Change]
) -> Chart:
    """Return the chart of one check or more."""
    panels = Panels(
        ["Mean score under the saddle, 0 to 4"],
        days=[row.day for row in felt],
        changes=changes,
        row_px=190,
    )
    days = [row.day for row in felt]
    for side, values in (("L", [r.left for r in felt]), ("R", [r.right for r in felt])):
        panels.line(
            0,
            days,
            values,
            name=SIDE_WORDS[side],
            line=SIDE_LINES[side],
            marker=SIDE_MARKERS[side],
        )
    named = False
    for stretch in stretches:
        if stretch.median is not None:
            ends = [stretch.days[0], stretch.days[-1]]
            panels.line(
                0,
                ends,
                [stretch.median, stretch.median],
                name="Median between changes",
                line={"color": ACCENT, "width": 4},
                marker={"color": ACCENT, "size": 1},
                shown=not named,
            )
            named = True
    panels.axis(0, range=[-0.1, 4.1])
    return chart(
        panels.figure(),
        id="stretches",
        title="Soreness under the saddle, and what changed",
        head=HEAD,
        rows=[cells(row) for row in reversed(felt)],
    )


def cells(row: FeltRow) -> tuple[str, ...]:
    """Return one check as text for the table and the file."""
    sides = ("–" if side is None else f"{side:.2f}" for side in (row.left, row.right))
    return (f"{row.day:%Y-%m-%d}", f"{row.value:.2f}", *sides, str(row.tested), str(row.sore))
