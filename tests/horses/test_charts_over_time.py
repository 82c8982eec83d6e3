"""Figures over time: traces, titles, gaps for what was not tested, marks of what changed."""

from datetime import date
from typing import Any

from horses.charts.backs import LOWER, UPPER, angles_chart, evenness_chart, widths_chart
from horses.charts.seasons import body_chart
from horses.charts.soreness import sites_that_scored, soreness_chart
from horses.charts.theme import INCHES, Chart
from horses.seasons import (
    BackPoint,
    BodyPoint,
    Change,
    SectionNumbers,
    SorenessPoint,
    same_season_before,
    season_of,
)

SITES = {"WM": "Top of the withers", "BS": "Behind the blade", "LO": "Loin"}
STATIONS = ("S1", "S3", "S5")
NAMES = {"S1": "S1 front", "S3": "S3 middle", "S5": "S5 end"}
DAYS = [date(2024, 4, 1), date(2025, 4, 1), date(2026, 4, 1)]
NEW_SADDLE = Change(date(2025, 1, 10), "SD-02")


def traces(chart: Chart, axis: str = "y") -> dict[str, Any]:
    return {t["name"]: t for t in chart.figure_json["data"] if t.get("yaxis", "y") == axis}


def words(chart: Chart) -> list[str]:
    return [a["text"] for a in chart.figure_json["layout"]["annotations"]]


def soreness(*scores: tuple[int | None, int | None]) -> list[SorenessPoint]:
    return [
        SorenessPoint(day, {("BS", "L"): left, ("BS", "R"): right, ("LO", "L"): 0, ("LO", "R"): 0})
        for day, (left, right) in zip(DAYS, scores, strict=True)
    ]


def test_only_sites_that_ever_scored_are_drawn_worst_first() -> None:
    points = [
        SorenessPoint(DAYS[0], {("LO", "L"): 1, ("BS", "L"): 3, ("WM", "M"): 0}),
        SorenessPoint(DAYS[1], {("LO", "L"): None}),
    ]
    assert sites_that_scored(points, list(SITES)) == ["BS", "LO"]


def test_a_site_not_tested_leaves_a_gap_and_is_never_zero() -> None:
    chart = soreness_chart(soreness((3, 1), (None, 0), (0, 0)), site_names=SITES)
    assert chart is not None
    left = traces(chart)["Left (near)"]
    assert left["y"] == [3, None, 0]
    assert left["connectgaps"] is False
    assert chart.table_rows[1] == ("2025-04-01", "not tested", "0")


def test_no_soreness_ever_means_no_chart() -> None:
    assert soreness_chart(soreness((0, 0), (0, 0), (0, 0)), site_names=SITES) is None


def test_a_new_saddle_is_marked_with_its_words() -> None:
    chart = soreness_chart(soreness((3, 1), (1, 0), (0, 0)), site_names=SITES, changes=[NEW_SADDLE])
    assert chart is not None
    assert "SD-02" in words(chart)
    lines = [s for s in chart.figure_json["layout"]["shapes"] if s["x0"] == "2025-01-10"]
    assert len(lines) == 1


def test_what_was_in_use_at_the_start_is_named_there_and_what_had_ended_is_not() -> None:
    old = Change(date(2015, 1, 1), "SD-90", until=date(2016, 1, 1))
    used = Change(date(2016, 1, 1), "SD-01")
    chart = soreness_chart(soreness((3, 1), (1, 0), (0, 0)), site_names=SITES, changes=[old, used])
    assert chart is not None
    assert "SD-90" not in words(chart)
    assert "SD-01" in words(chart)


def back(day: date, left: float = 174.0, right: float = 173.0, **values: Any) -> BackPoint:
    sections = {
        (station, side): SectionNumbers(70.0, width, 45.0 if side == "L" else 44.0)
        for station in STATIONS
        for side, width in (("L", left), ("R", right))
    }
    return BackPoint(day, sections, **values)


def test_widths_have_one_panel_per_station_and_the_practices_unit() -> None:
    points = [back(d) for d in DAYS]
    lower = widths_chart(points, depth=LOWER, stations=STATIONS, station_names=NAMES, unit=INCHES)
    upper = widths_chart(points, depth=UPPER, stations=STATIONS, station_names=NAMES, unit=INCHES)
    assert lower is not None
    assert upper is not None
    assert lower.title == "Half-width of the back 15 cm below the midline, in"
    assert words(lower) == [NAMES[s] for s in STATIONS]
    assert len(lower.figure_json["data"]) == 3 * 2
    assert lower.table_rows[0][1:3] == ("6.85", "6.81")  # 174 and 173 mm in inches
    assert upper.table_rows[0][1:3] == ("2.76", "2.76")  # 70 mm
    assert upper.table_head[-2:] == ("S1 ratio L", "S1 ratio R")
    assert upper.table_rows[0][-2:] == ("0.402", "0.405")  # 70/174 and 70/173


def test_a_station_never_measured_has_no_panel() -> None:
    point = BackPoint(DAYS[0], {("S3", "L"): SectionNumbers(90.0, 210.0, 34.0)})
    chart = widths_chart([point], depth=LOWER, stations=STATIONS, station_names=NAMES)
    assert chart is not None
    assert words(chart) == ["S3 middle"]


def test_included_angle_needs_both_sides() -> None:
    whole, half = back(DAYS[0]), BackPoint(DAYS[1], {("S1", "L"): SectionNumbers(70, 174, 45)})
    chart = angles_chart([whole, half], stations=STATIONS, station_names=NAMES)
    assert chart is not None
    assert traces(chart)["Included"]["y"] == [91.0, None]
    assert traces(chart)["Left (near)"]["y"] == [90.0, 90.0]
    assert chart.table_rows[0][:4] == ("2025-04-01", "–", "45.0", "–")


def test_twist_and_rock_stand_in_the_table_of_angles() -> None:
    slopes = {"S1": 45.0, "S2": 40.0, "S4": 30.0, "S5": 28.0}
    sections = {
        (station, side): SectionNumbers(70, 174, slope)
        for station, slope in slopes.items()
        for side in "LR"
    }
    point = BackPoint(DAYS[0], sections, rock_mm={"L": 18.0})
    stations = tuple(slopes)
    chart = angles_chart([point], stations=stations, station_names={s: s for s in stations})
    assert chart is not None
    assert chart.table_rows[0][-4:] == ("13.5", "13.5", "18.0", "–")


def test_uneven_sides_stand_out_by_sign() -> None:
    chart = evenness_chart(
        [back(DAYS[0], 178, 162), back(DAYS[1], 178, 173)], stations=STATIONS, station_names=NAMES
    )
    assert chart is not None
    assert traces(chart)["S1"]["y"] == [16.0, 5.0]
    assert chart.table_rows[1][1] == "+16"


def test_the_table_says_why_a_measuring_is_poor() -> None:
    chart = widths_chart(
        [back(DAYS[0], problems=("not standing square",))],
        depth=LOWER,
        stations=STATIONS,
        station_names=NAMES,
    )
    assert chart is not None
    assert chart.table_rows[0][0] == "2024-04-01 (not standing square)"


def test_weight_is_drawn_in_the_practices_unit_and_says_how_it_was_got() -> None:
    points = [BodyPoint(DAYS[0], 483.5, False, 5, 2), BodyPoint(DAYS[1], 500.0, True, None, None)]
    imperial, metric = (body_chart(points, imperial=i) for i in (True, False))
    assert imperial is not None
    assert metric is not None
    assert traces(imperial)["Weight (filled: scale)"]["y"] == [1066, 1102]
    assert traces(metric)["Weight (filled: scale)"]["y"] == [484, 500]
    assert traces(metric, "y2")["Condition"]["y"] == [5, None]
    assert metric.table_rows[0] == ("2025-04-01", "Spring 2025", "500", "scale", "–", "–")


def test_nothing_measured_means_no_chart() -> None:
    assert widths_chart([], depth=LOWER, stations=STATIONS, station_names=NAMES) is None
    assert body_chart([], imperial=True) is None


def test_seasons_compare_like_with_like() -> None:
    assert str(season_of(date(2025, 12, 3))) == "Winter 2026"
    assert str(season_of(date(2026, 2, 3))) == "Winter 2026"
    days = [date(2024, 4, 20), date(2025, 5, 2), date(2025, 10, 1), date(2026, 3, 30)]
    assert same_season_before(days, date(2026, 4, 10)) == date(2025, 5, 2)
    assert same_season_before(days, date(2026, 7, 1)) is None
