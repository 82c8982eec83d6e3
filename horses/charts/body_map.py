"""The body map: a horse from above, head at the top, so that its left lies left on the page.

Pure layout: scores in, placed marks out. A mark differs by digit, size, line and fill, so that it
reads without colour and in black and white.
"""

from collections.abc import Mapping
from dataclasses import dataclass

CENTRE = 160
# Distance from the midline and from the top, in drawing units. Midline sites lie at 0.
PLACES: dict[str, tuple[int, int]] = {
    "PO": (27, 92),
    "WM": (0, 150),
    "WS": (36, 152),
    "BS": (50, 190),
    "UB": (37, 226),
    "MB": (46, 262),
    "RB": (46, 300),
    "LO": (38, 338),
    "SP": (0, 266),
    "CR": (42, 386),
    "GI": (107, 206),
    "ST": (88, 122),
}
# Where a line leads to the body from marks that belong underneath it.
LEADERS: dict[str, tuple[int, int]] = {"GI": (66, 206), "ST": (34, 132)}


@dataclass(frozen=True)
class Look:
    """How one kind of mark is drawn."""

    radius: int
    fill: str
    ink: str
    line: str
    line_width: float
    dash: str = ""


LOOKS: dict[int | None, Look] = {
    None: Look(12, "#fffdf8", "#55606a", "#55606a", 1.5, "3 3"),
    0: Look(12, "#fffdf8", "#24563f", "#24563f", 1.5),
    1: Look(13, "#f3e3d0", "#1f2a30", "#7a5200", 1.5),
    2: Look(14, "#e9b872", "#1f2a30", "#7a5200", 2.5),
    3: Look(15, "#8c1d18", "#ffffff", "#8c1d18", 2.0),
    4: Look(16, "#4a0d0a", "#ffffff", "#1f2a30", 4.0),
}
UNSAID = Look(4, "#a99d86", "#a99d86", "#a99d86", 0)


@dataclass(frozen=True)
class Mark:
    """One site on one side, placed and drawn."""

    site: str
    side: str
    x: int
    y: int
    look: Look
    text: str
    label_x: int
    label_y: int
    words: str
    leader: tuple[int, int] | None

    @property
    def key(self) -> str:
        return f"{self.site}-{self.side}"


def body_marks(
    scores: Mapping[tuple[str, str], int | None], names: Mapping[str, str] | None = None
) -> list[Mark]:
    """Place a mark for every site and side; a pair that is absent from `scores` is a dot."""
    return [
        _mark(site, side, scores, (names or {}).get(site, site))
        for site, (off, _) in PLACES.items()
        for side in (("M",) if off == 0 else ("L", "R"))
    ]


def _mark(site: str, side: str, scores: Mapping[tuple[str, str], int | None], name: str) -> Mark:
    off, y = PLACES[site]
    sign = -1 if side == "L" else 1
    x = CENTRE + sign * off
    is_said = (site, side) in scores
    score = scores.get((site, side))
    look = LOOKS[score] if is_said else UNSAID
    leader = LEADERS.get(site)
    return Mark(
        site=site,
        side=side,
        x=x,
        y=y,
        look=look,
        text=("–" if score is None else str(score)) if is_said else "",
        label_x=x + sign * (look.radius + 11) if off else x,
        label_y=y + 4 if off else y - look.radius - 4,
        words=f"{name}{_side_words(side)}: {_score_words(is_said, score)}",
        leader=(CENTRE + sign * leader[0], leader[1]) if leader else None,
    )


def _side_words(side: str) -> str:
    return {"L": ", left", "R": ", right"}.get(side, "")


def _score_words(is_said: bool, score: int | None) -> str:
    if not is_said:
        return "not entered"
    return "not tested" if score is None else str(score)
