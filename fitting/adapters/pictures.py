"""An engine result becomes charts: SI fields in, figures with their tables out."""

import math

import numpy as np
from numpy.typing import NDArray

from fitting.adapters.measures import SIDE_WORDS, shown
from fitting.charts.back_in_space import BackInSpace, back_in_space
from fitting.charts.gap_curve import GapCurves, gap_curve
from fitting.charts.load_map import LoadMap, load_map
from fitting.charts.sections import SectionOverlay, section_overlay
from fitting.charts.thirds import Thirds, thirds
from fitting.engine import LOAD_CASES, CaseResult, FitResult, Section
from horses.charts.theme import Chart, LengthUnit, chart

Array = NDArray[np.float64]
Rows = tuple[tuple[str, ...], ...]
MM = 1e3
KPA = 1e-3
ROOM = 0.02  # [m] shown before and behind what lies under the tree
SIDES = ("left", "right")
ZONES = {"cranial": "Front third", "middle": "Middle third", "caudal": "Rear third"}
HALVES = {"inner": "Inner half, beside the spine", "outer": "Outer half"}
CASE_ORDER = tuple(case.name for case in LOAD_CASES)
ZONE_HEAD = ("Part of the bar", "Mean, left / right", "Peak, left / right")


def top_kpa(*results: FitResult) -> float:
    """Return a common end for the colour scales: nearly the highest pressure, in steps of 5 kPa.

    A few hard cells would bleach the rest, so the scale ends where 99.5 % of loaded cells lie.
    """
    loaded = [c.pressure[c.pressure > 0] for result in results for c in result.cases]
    every = np.concatenate([*loaded, np.zeros(1)])
    return max(15.0, 5 * math.ceil(float(np.percentile(every, 99.5)) * KPA / 5))


def last_rib_of(inputs: dict[str, object]) -> float | None:
    """Return the last rib behind the blade [m] from frozen inputs, or None."""
    back = inputs.get("back")
    rib = back.get("last_rib") if isinstance(back, dict) else None
    return float(rib) if rib is not None else None


def cases_in_order(result: FitResult) -> list[CaseResult]:
    found = {case.name: case for case in result.cases}
    known = [found[name] for name in CASE_ORDER if name in found]
    return known + [case for case in result.cases if case.name not in CASE_ORDER]


def _rows_shown(result: FitResult, last_rib: float | None) -> NDArray[np.bool_]:
    """Return which rows of the grid the map shows: blade, tree and last rib, with some room."""
    covered = np.isfinite(result.cases[0].gap).any(axis=(0, 2))
    x = result.x[covered]
    low = min(0.0, float(x.min())) - ROOM
    high = max(float(x.max()), last_rib or 0.0) + ROOM
    return np.asarray((result.x >= low) & (result.x <= high))


def map_data(
    result: FitResult, case: CaseResult, *, top: float, last_rib: float | None, **look: bool
) -> LoadMap:
    """Return what a map of one load case shows, large or small."""
    rows = _rows_shown(result, last_rib)
    pressure = np.where(np.isfinite(case.gap), case.pressure, np.nan)[:, rows] * KPA
    return LoadMap(
        x_mm=result.x[rows] * MM,
        y_mm=result.y * MM,
        pressure_kpa=pressure,
        top_kpa=top,
        last_rib_mm=None if last_rib is None else last_rib * MM,
        stations_mm=tuple((section.name, section.x * MM) for section in result.sections),
        **look,
    )


def load_map_of(case: CaseResult, data: LoadMap, *, id: str, title: str, unit: LengthUnit) -> Chart:
    return chart(
        load_map(data, unit),
        id=id,
        title=title,
        head=ZONE_HEAD,
        rows=zone_rows(case),
        note="Brighter is more load. Red line: 11 kPa.",
    )


def space_chart(result: FitResult, case: CaseResult, data: LoadMap, *, pad: float) -> Chart:
    """Return the standing back with the bars and the load of a case, to be turned.

    The underside lies over the back by the gap, with a pad of a thickness [m] between them; where
    it presses, it is drawn lower by what pad and back give.
    """
    rows = np.isin(result.x * MM, data.x_mm)
    heights = result.z[:, rows]
    figure = BackInSpace(
        x_mm=data.x_mm,
        y_mm=data.y_mm,
        heights_mm=heights * MM,
        underside_mm=(heights + case.gap[:, rows] + pad) * MM,
        pressure_kpa=data.pressure_kpa,
        top_kpa=data.top_kpa,
    )
    return chart(
        back_in_space(figure),
        id=f"space-{case.name}",
        title=f"The load on the back, to be turned: {case.title.lower()}",
        head=ZONE_HEAD,
        rows=zone_rows(case),
        note=(
            f"The tail is toward you. Brighter is more load, up to {data.top_kpa:.0f} kPa. The "
            "grey veil is the underside of the bars. The back is drawn as it stands."
        ),
    )


def zone_rows(case: CaseResult) -> Rows:
    """Return mean and peak pressure by third and by inner and outer half, as text."""
    return tuple(
        (words, *(both_sides(case, code, zone) for code in ("mean_pressure", "peak_pressure")))
        for zone, words in (ZONES | HALVES).items()
    )


def both_sides(case: CaseResult, code: str, zone: str) -> str:
    left, right = (case.value(code, zone, side) * KPA for side in SIDES)
    # The highest moment of a stride has no mean: published means are over whole strides.
    return f"{left:.1f} / {right:.1f} kPa" if math.isfinite(left + right) else "–"


def section_of(section: Section, *, id: str, unit: LengthUnit, pad: float) -> Chart:
    """Return back and tree at one station, over a pad of a thickness [m]."""
    level = float(np.max(section.back_z))
    back = [(section.back_y * MM, (z - level) * MM) for z in section.back_z]
    underside = []
    for y, z in zip(section.tree_y, section.tree_z, strict=True):
        kept = np.isfinite(y) & np.isfinite(z)
        underside.append((y[kept] * MM, (z[kept] - level) * MM))
    data = SectionOverlay(section.name, (back[0], back[1]), (underside[0], underside[1]), pad * MM)
    where = f"{unit(section.x * MM):.1f} {unit.name} behind the blade"
    return chart(
        section_overlay(data, unit),
        id=id,
        title=f"{section.name}, {where}",
        head=("Part", "Left (near)", "Right (off)"),
        rows=_section_rows(section),
    )


def _section_rows(section: Section) -> list[tuple[str, str, str]]:
    """Return the room between back and tree at the inner edge, middle and outer edge, in mm."""
    rooms = [_room(section, side) for side in range(2)]
    if not any(rooms):
        return [("Tree", "no bar here", "no bar here")]
    names = ("Room at the inner edge", "Room at the middle", "Room at the outer edge")
    return [
        (name, *(shown(room[i], "m") if room else "no bar here" for room in rooms))  # type: ignore[misc]
        for i, name in enumerate(names)
    ]


def _room(section: Section, side: int) -> tuple[float, float, float] | None:
    y, z = section.tree_y[side], section.tree_z[side]
    kept = np.isfinite(y) & np.isfinite(z)
    if kept.sum() < 3:
        return None
    room = (z - np.interp(y, section.back_y, section.back_z[side]))[kept]
    return float(room[0]), float(room[len(room) // 2]), float(room[-1])


def gap_chart(
    result: FitResult, case: CaseResult, *, id: str, unit: LengthUnit, last_rib: float | None
) -> Chart:
    rows = _rows_shown(result, last_rib)
    data = GapCurves(
        x_mm=result.x[rows] * MM,
        gap_mm=np.maximum(case.row_gap[:, rows], 0.0) * MM,
        last_rib_mm=None if last_rib is None else last_rib * MM,
    )
    table = [
        (
            f"{section.name}, {unit(section.x * MM):.1f} {unit.name}",
            *(_gap_at(result, case, side, section.x) for side in range(2)),
        )
        for section in result.sections
    ]
    return chart(
        gap_curve(data, unit),
        id=id,
        title=f"Gap along the bars: {case.title.lower()}",
        head=("Station", "Left (near)", "Right (off)"),
        rows=table,
        note="The smallest gap across the bar at each place, pad included. On the line: touching.",
    )


def _gap_at(result: FitResult, case: CaseResult, side: int, x: float) -> str:
    gap = float(case.row_gap[side, int(np.argmin(np.abs(result.x - x)))])
    if not math.isfinite(gap):
        return "no bar here"
    return "touching" if gap <= 0 else shown(gap, "m")


def thirds_chart(case: CaseResult, *, id: str) -> Chart:
    shares = {side: tuple(case.value("share", zone, side) for zone in ZONES) for side in SIDES}
    left, right = shares["left"], shares["right"]
    table = [
        (words, shown(left[i], "1"), shown(right[i], "1"), shown(left[i] + right[i], "1"))
        for i, words in enumerate(ZONES.values())
    ]
    table.append(("Whole side", shown(sum(left), "1"), shown(sum(right), "1"), ""))
    return chart(
        thirds(Thirds(left, right)),  # type: ignore[arg-type]
        id=id,
        title=f"Load by third and side: {case.title.lower()}",
        head=("Third", "Left (near)", "Right (off)", "Both"),
        rows=table,
        note="Dotted line: an even share. A bar narrow in the middle carries less there by right.",
    )


def bearing_rows(
    result: FitResult, case: CaseResult, unit: LengthUnit
) -> tuple[tuple[str, ...], ...]:
    """Return weight-bearing length, its share, start and end of support, per side."""
    measures = (
        ("Weight-bearing length", "bearing_length", "m"),
        ("The same, as a share of the part meant to bear", "bearing_share", "1"),
        ("Contact begins behind the blade", "support_start", "m"),
        ("Contact ends behind the blade", "support_end", "m"),
        ("Bearing part ends ahead of the last rib (minus: past it)", "ahead_of_last_rib", "m"),
        ("Load behind the last rib", "share_behind_last_rib", "1"),
    )
    rows = []
    for words, code, si in measures:
        values = [_either(result, case, code, side) for side in SIDES]
        rows.append((words, *(shown(value, si, unit) for value in values)))
    return tuple(rows)


def _either(result: FitResult, case: CaseResult, code: str, side: str) -> float:
    """Return a measure of a load case, or of the shape where it depends on no load."""
    value = case.value(code, "", side)
    return value if math.isfinite(value) else result.value(code, "", side)


SIDE_HEADS = tuple(word.capitalize() for word in SIDE_WORDS.values())
