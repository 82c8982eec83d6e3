"""The drawing of a cross-section as it is being entered, seen from behind so that left is left."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Points = Sequence[Sequence[float]]
NARROWEST_MM = 160.0
LEVELS = (0, 50, 100, 150)
INK, SECOND_INK, LAST_INK = "#1f2a30", "#8a4b12", "#8b8676"


@dataclass(frozen=True)
class Curve:
    """One polyline of the drawing."""

    points: str
    colour: str
    width: float
    dash: str = ""
    name: str = ""  # "L1": side and time; empty for last visit


@dataclass(frozen=True)
class SectionDrawing:
    """Curves in mm: across from the midline, downward from its level."""

    curves: list[Curve]
    reach: int
    words: str
    has_last: bool
    levels: tuple[int, ...] = LEVELS
    bottom: int = 165

    @property
    def left(self) -> int:
        return -self.reach

    @property
    def right(self) -> int:
        return self.reach

    @property
    def view_box(self) -> str:
        return f"{-self.reach} -30 {2 * self.reach} {self.bottom + 35}"


def draw_section(traces: dict[tuple[str, int], Points], last: dict[str, Points]) -> SectionDrawing:
    """Draw both halves of both traces, and last time's halves behind them."""
    curves = [_curve(points, side, LAST_INK, 2.0, "1 5") for side, points in last.items()]
    for (side, trace), points in sorted(traces.items()):
        if points:
            curves.append(
                _curve(points, side, INK, 2.5, name=f"{side}1")
                if trace == 1
                else _curve(points, side, SECOND_INK, 2.5, "8 5", f"{side}2")
            )
    return SectionDrawing(
        curves=curves,
        reach=int(_reach([*traces.values(), *last.values()])) + 15,
        words=_words(traces),
        has_last=bool(last),
    )


def _curve(
    points: Points, side: str, colour: str, width: float, dash: str = "", name: str = ""
) -> Curve:
    sign = -1 if side == "L" else 1
    text = " ".join(f"{sign * across:.1f},{down:.1f}" for down, across in points)
    return Curve(text, colour, width, dash, name)


def _reach(all_points: Iterable[Points]) -> float:
    widths = [across for points in all_points for _, across in points]
    return max([NARROWEST_MM, *widths])


def _words(traces: dict[tuple[str, int], Points]) -> str:
    said = [
        f"{'left' if side == 'L' else 'right'}, time {trace}: {points[-1][1]:g} mm wide at "
        f"{points[-1][0]:g} mm down"
        for (side, trace), points in sorted(traces.items())
        if points
    ]
    return "Cross-section from behind. " + ("; ".join(said) if said else "Nothing entered yet")
