"""The report's drawings, from the plain numbers frozen in its content.

All are 360 units wide, so that words keep their size on a phone, and use line styles and hatching
rather than colour, so that they survive a black-and-white printer.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django.utils.safestring import SafeString

from practice.report.svg import (
    INK,
    PALE,
    SOFT,
    Point,
    drawing,
    element,
    hatching,
    line,
    path,
    text,
)

WIDTH = 360
MARGIN = 18.0
TALLER = 2.2  # heights are drawn this much larger than lengths, so that a gap can be seen
SHOWN_GAP_MM = 0.8
BAR_PX = 13.0
SIDE_NAMES = {"L": "Left side", "R": "Right side"}
Data = Mapping[str, Any]


def side_view(view: Data, number: int) -> SafeString:
    """Draw one bar on the back from the side, front on the left, air between them hatched."""
    x, back, gap = view["x_mm"], view["back_mm"], view["gap_mm"]
    scale = (WIDTH - 2 * MARGIN) / (max(x) - min(x))
    low = min(back)
    high = max(b + g for b, g in zip(back, gap, strict=True))
    base = 44 + (high - low) * scale * TALLER + BAR_PX

    def at(x_mm: float, height_mm: float) -> Point:
        return MARGIN + (x_mm - min(x)) * scale, base - (height_mm - low) * scale * TALLER

    skin = [at(a, b) for a, b in zip(x, back, strict=True)]
    under = [at(a, b + g) for a, b, g in zip(x, back, gap, strict=True)]
    top = [(a, b - BAR_PX) for a, b in reversed(under)]
    floor = [(WIDTH - MARGIN, base + 16), (MARGIN, base + 16)]
    name = f"air-{number}"
    words = f"{SIDE_NAMES[view['side']]}: saddle on the back, seen from the side"
    return drawing(
        WIDTH,
        round(base + 40),
        words,
        hatching(name),
        path([*skin, *floor], closed=True, fill=PALE, stroke="none"),
        *_air(skin, under, gap, name),
        path([*under, *top], closed=True, fill="#fff", stroke_width=1.5),
        path(skin, stroke_width=2.5),
        *_rib(view["last_rib_mm"], at, base),
        text(SIDE_NAMES[view["side"]], MARGIN, 14, font_weight=700),
        text("shoulder", MARGIN, base + 32),
        text("loin", WIDTH - MARGIN, base + 32, text_anchor="end"),
    )


def _air(
    skin: Sequence[Point], under: Sequence[Point], gap: Sequence[float], name: str
) -> list[str]:
    """Hatch each run where there is air, and name the longest one."""
    runs: list[list[int]] = []
    for i, value in enumerate(gap):
        if value <= SHOWN_GAP_MM:
            continue
        if runs and runs[-1][-1] == i - 1:
            runs[-1].append(i)
        else:
            runs.append([i])
    drawn = [
        path(
            [*(skin[i] for i in run), *(under[i] for i in reversed(run))],
            closed=True,
            fill=f"url(#{name})",
            stroke_width=0.8,
        )
        for run in runs
        if len(run) > 1
    ]
    inner = [run for run in runs if run[0] > 0 and run[-1] < len(gap) - 1]
    if inner:
        middle = max(inner, key=len)
        x, y = under[middle[len(middle) // 2]]
        drawn.append(text("gap", x, y - BAR_PX - 5, text_anchor="middle", font_weight=700))
    return drawn


def _rib(rib_mm: float | None, at: Any, base: float) -> list[str]:
    if rib_mm is None:
        return []
    x, _ = at(rib_mm, 0)
    if not MARGIN <= x <= WIDTH - MARGIN:
        return []
    return [
        line(x, 22, x, base + 16, stroke_dasharray="4 3", stroke=INK),
        text("last rib", x - 4, 20, text_anchor="end"),
    ]


def outline(section: Data) -> SafeString:
    """Draw one cross-section seen from behind: now solid, then dashed, left on the left."""
    scale, middle, top = 0.62, WIDTH / 2, 26.0

    def points(half: Sequence[Sequence[float]], sign: int) -> list[Point]:
        return [(middle + sign * y * scale, top + depth * scale) for y, depth in half]

    drawn = []
    styles: tuple[tuple[str, dict[str, Any]], ...] = (
        ("then", {"stroke": SOFT, "stroke_width": 1.8, "stroke_dasharray": "6 4"}),
        ("now", {"stroke": INK, "stroke_width": 2.4}),
    )
    for when, style in styles:
        for side, sign in (("left", -1), ("right", 1)):
            half = section[f"{when}_{side}"]
            if len(half) > 1:
                drawn.append(path(points(half, sign), **style))
    return drawing(
        WIDTH,
        136,
        f"{section['title']}: shape of the back seen from behind, now and then",
        line(middle, top - 8, middle, 126, stroke_dasharray="2 4"),
        *drawn,
        text("left", 8, 20, fill=SOFT),
        text("right", WIDTH - 8, 20, text_anchor="end", fill=SOFT),
    )


def rear(view: Data, number: int) -> SafeString:
    """Draw the end of the support against the last rib, on the side that reaches further."""
    ahead_mm = max(-90.0, min(90.0, min(view["ahead_left_mm"], view["ahead_right_mm"])))
    lifts = [v for v in (view["lift_left_mm"], view["lift_right_mm"]) if v is not None]
    lift_px = min(lifts, default=0.0) * 1.4
    rib, ground = 215.0, 96.0
    name = f"loin-{number}"
    end = rib - ahead_mm * 1.1
    skirt = min(end + 62, WIDTH - 14)
    under = [(14, ground), (end, ground), (skirt, ground - lift_px)]
    top = [(skirt, ground - lift_px - 7), (end, ground - 20), (14, ground - 20)]
    side = "left" if view["ahead_left_mm"] <= view["ahead_right_mm"] else "right"
    return drawing(
        WIDTH,
        150,
        f"Rear end of the saddle against the last rib, {side} side",
        hatching(name),
        element("rect", x=rib, y=ground, width=WIDTH - 14 - rib, height=24, fill=f"url(#{name})"),
        element("rect", x=14, y=ground, width=rib - 14, height=24, fill=PALE),
        line(14, ground, WIDTH - 14, ground, stroke=INK, stroke_width=2.5),
        path([*under, *top], closed=True, fill="#fff", stroke_width=1.5),
        line(rib, 26, rib, ground + 24, stroke=INK, stroke_dasharray="4 3"),
        text("last rib", rib, 20, text_anchor="middle"),
        line(end, ground - 44, end, ground + 2, stroke=INK, stroke_width=2),
        text("support ends", 20, ground - 40),
        line(96, ground - 44, end, ground - 44, stroke=INK),
        text("back, with ribs", 20, ground + 40),
        text("loin, no ribs", WIDTH - 16, ground + 40, text_anchor="end"),
    )


HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 216, 22.0, 350.0, 50.0, 184.0
SCORES = (0, 1, 2, 3, 4)


def trend(data: Data) -> SafeString:
    """Draw the highest score in front and in the rear of the saddle through the seasons."""
    days = [date.fromisoformat(day) for day in data["days"]]
    first, last = days[0] - timedelta(days=20), days[-1] + timedelta(days=20)

    def at(day: date, score: float) -> Point:
        share = (day - first) / (last - first)
        return LEFT + share * (RIGHT - LEFT), BOTTOM - score / 4 * (BOTTOM - TOP)

    grid = []
    for score in SCORES:
        _, y = at(first, score)
        grid.append(line(LEFT, y, RIGHT, y, stroke="#d8cfbd"))
        grid.append(text(str(score), LEFT - 6, y + 4, text_anchor="end"))
    return drawing(
        WIDTH,
        HEIGHT,
        "Soreness through the seasons, in front and in the rear of the saddle",
        *grid,
        *_year_marks(first, last, at),
        *_change_marks(data["changes"], at),
        *_series(days, data["front"], at, dashed=False),
        *_series(days, data["rear"], at, dashed=True),
    )


def _year_marks(first: date, last: date, at: Any) -> list[str]:
    drawn = []
    for year in range(first.year, last.year + 1):
        start = max(date(year, 1, 1), first)
        x, _ = at(start, 0)
        if date(year, 1, 1) > first:
            drawn.append(line(x, BOTTOM, x, BOTTOM + 6, stroke=INK))
        room = (min(date(year, 12, 31), last) - start) / (last - first)
        if room > 0.1:
            middle, _ = at(start + (min(date(year, 12, 31), last) - start) / 2, 0)
            drawn.append(text(str(year), middle, BOTTOM + 20, text_anchor="middle"))
    return drawn


def _change_marks(changes: Sequence[Sequence[str]], at: Any) -> list[str]:
    drawn, free_from = [], 0.0
    for day, words in changes:
        x, _ = at(date.fromisoformat(day), 0)
        drawn.append(line(x, TOP - 8, x, BOTTOM, stroke_dasharray="2 3"))
        if x >= free_from:
            near_end = x > RIGHT - 60
            anchor = "end" if near_end else "start"
            drawn.append(text(words, x, TOP - 12, font_size=11, text_anchor=anchor, fill=SOFT))
            free_from = x + 7 * len(words)
        else:
            drawn.append(text(words, x, TOP - 26, font_size=11, fill=SOFT))
    return drawn


def _series(
    days: Sequence[date], scores: Sequence[int | None], at: Any, *, dashed: bool
) -> list[str]:
    """Draw one line with its marks; it breaks where nothing was tested."""
    drawn: list[str] = []
    run: list[Point] = []
    shift = 1.5 if dashed else -1.5  # two equal lines stay apart
    for day, score in zip(days, scores, strict=True):
        if score is None:
            drawn += _stroke(run, dashed=dashed)
            run = []
            continue
        x, y = at(day, score)
        run.append((x, y + shift))
    drawn += _stroke(run, dashed=dashed)
    return drawn


def _stroke(run: Sequence[Point], *, dashed: bool) -> list[str]:
    if not run:
        return []
    drawn = [path(run, stroke_width=2, stroke_dasharray="5 4" if dashed else None)]
    for x, y in run:
        if dashed:
            mark = element(
                "rect", x=x - 3.5, y=y - 3.5, width=7, height=7, fill="#fff", stroke=INK,
                stroke_width=1.6,
            )  # fmt: skip
        else:
            mark = element("circle", cx=x, cy=y, r=4, fill=INK)
        drawn.append(mark)
    return drawn
