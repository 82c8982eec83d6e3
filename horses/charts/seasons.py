"""Weight, condition and muscle through the seasons."""

from collections.abc import Sequence

from horses.charts.panels import Panels
from horses.charts.theme import ACCENT, INK, SOFT, Chart, chart
from horses.seasons import BodyPoint, Change, season_of

NOTHING = "–"
LEAST_SPREAD_KG = 50.0  # about what two weighings by tape can differ by
KG_PER_POUND = 0.45359237


def body_chart(
    points: Sequence[BodyPoint], *, imperial: bool, changes: Sequence[Change] = ()
) -> Chart | None:
    """Return weight over condition and muscle, None when neither was ever recorded."""
    known = [p for p in points if p.mass_kg is not None or p.condition is not None]
    if not known:
        return None
    unit, factor = ("lb", 1 / KG_PER_POUND) if imperial else ("kg", 1.0)
    days = [point.day for point in known]
    titles = [f"Weight, {unit}", "Body condition 1-9 and muscle 1-5"]
    panels = Panels(titles, days=days, changes=changes, row_px=120)
    masses = [None if p.mass_kg is None else round(p.mass_kg * factor) for p in known]
    panels.line(
        0,
        days,
        masses,
        name="Weight (filled: scale)",
        line={"color": INK, "width": 2.5},
        marker={
            "color": INK,
            "size": 9,
            "symbol": ["circle" if p.is_scale else "circle-open" for p in known],
        },
        unit=f" {unit}",
    )
    panels.keep_open(0, masses, LEAST_SPREAD_KG * factor)
    condition = {"color": ACCENT, "width": 2.5, "dash": "solid"}
    muscle = {"color": SOFT, "width": 2.5, "dash": "dash"}
    for name, line, symbol, values in (
        ("Condition", condition, "square", [p.condition for p in known]),
        ("Muscle", muscle, "triangle-up", [p.muscle for p in known]),
    ):
        marker = {"size": 8, "symbol": symbol, "color": line["color"]}
        panels.line(1, days, values, name=name, line=line, marker=marker)
    panels.axis(1, range=[0.7, 9.3], tickvals=[1, 3, 5, 7, 9])
    return chart(
        panels.figure(),
        id="body",
        title="Weight and condition",
        head=("Day", "Season", f"Weight, {unit}", "How", "Condition", "Muscle"),
        rows=[_row(point, factor) for point in reversed(known)],
        note="Open circles are weights worked out from girth and length, good to about 5 %.",
    )


def _row(point: BodyPoint, factor: float) -> tuple[str, ...]:
    mass = NOTHING if point.mass_kg is None else f"{point.mass_kg * factor:.0f}"
    return (
        f"{point.day:%Y-%m-%d}",
        str(season_of(point.day)),
        mass,
        "scale" if point.is_scale else "tape",
        NOTHING if point.condition is None else str(point.condition),
        NOTHING if point.muscle is None else str(point.muscle),
    )
