"""A very small writer of SVG: elements as text, everything escaped.

The drawings are made on the server so that the report needs no script and prints anywhere.
"""

from collections.abc import Iterable

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

INK, SOFT, PALE, HATCH = "#1f2a30", "#55606a", "#efe6d4", "#55606a"
Point = tuple[float, float]


def element(name: str, *inside: str, **attributes: object) -> str:
    """Return one element; `_` in an attribute's name stands for `-`, None leaves it out."""
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_number(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{said}>{''.join(inside)}</{name}>"


def _number(value: object) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def text(words: str, x: float, y: float, **attributes: object) -> str:
    style = {"font_size": 12, "fill": INK} | attributes
    return element("text", escape(words), x=x, y=y, **style)


def path(points: Iterable[Point], *, closed: bool = False, **attributes: object) -> str:
    """Return straight strokes through the points."""
    steps = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    style = {"fill": "none", "stroke": INK, "stroke_width": 2} | attributes
    return element("path", d=f"M{steps}{'Z' if closed else ''}", **style)


def line(x1: float, y1: float, x2: float, y2: float, **attributes: object) -> str:
    style = {"stroke": SOFT, "stroke_width": 1} | attributes
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **style)


def hatching(name: str) -> str:
    """Return a pattern of slanted strokes, to be used as fill `url(#name)`."""
    stroke = element("path", d="M0 6L6 0", stroke=HATCH, stroke_width=1.2)
    pattern = element("pattern", stroke, id=name, width=6, height=6, patternUnits="userSpaceOnUse")
    return element("defs", pattern)


def drawing(width: int, height: int, words: str, *inside: str) -> SafeString:
    """Return a whole picture; `words` say what it shows to those who cannot see it."""
    picture = element(
        "svg",
        *inside,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {width} {height}",
        role="img",
        aria_label=words,
        font_family="inherit",
    )
    # Every text and attribute above went through escape().
    return mark_safe(picture)
