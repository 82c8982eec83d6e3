"""The computed measures of pairings over time."""

from dataclasses import replace
from datetime import date

from fitting.charts.history import FitPoint, fit_history_charts, tracks
from horses.seasons import Change

FLAT = FitPoint(
    date(2024, 5, 14),
    "SD-01",
    "SD-01 + Felt",
    bearing_mm={"L": 210.0, "R": 205.0},
    gap_mm={"L": 15.0, "R": 15.0},
    share={"cranial": 0.45, "middle": 0.05, "caudal": 0.50},
    peak_kpa={"cranial": 40.0, "middle": 2.0, "caudal": 44.0},
)
ROCKED = FitPoint(
    date(2024, 8, 20),
    "SD-02",
    "SD-02 + Felt",
    bearing_mm={"L": 400.0, "R": 400.0},
    gap_mm={"L": 2.0},
    share={"cranial": 0.38, "middle": 0.32, "caudal": 0.30},
    peak_kpa={"cranial": 20.0, "middle": 18.0, "caudal": 17.0},
)


def test_lines_do_not_join_two_saddles() -> None:
    (chart,) = fit_history_charts([FLAT, ROCKED, ROCKED])
    left = chart.figure_json["data"][0]
    assert left["name"] == "Left (near)"
    assert left["y"] == [21.0, None, 40.0, 40.0]
    assert left["connectgaps"] is False


def test_every_measure_has_a_panel_and_a_column() -> None:
    (chart,) = fit_history_charts([FLAT, ROCKED], changes=[Change(date(2024, 8, 15), "SD-02")])
    assert chart.title == "Computed fit of SD-01, SD-02"
    words = [a["text"] for a in chart.figure_json["layout"]["annotations"]]
    assert words[:3] == [
        "Length that bears weight, cm",
        "Gap under the middle, nobody up, mm",
        "Share of the load by third, %",
    ]
    assert "SD-02" in words
    assert chart.table_rows[0] == (
        "2024-08-20", "SD-02 + Felt", "40.0", "40.0", "2", "–", "38", "32", "30", "20", "18", "17",
    )  # fmt: skip


def test_without_evaluations_there_is_no_chart() -> None:
    assert fit_history_charts([]) == []


def test_saddles_used_side_by_side_have_a_chart_each() -> None:
    later = replace(FLAT, day=date(2025, 5, 1))
    assert tracks([FLAT, ROCKED]) == [[FLAT, ROCKED]]
    assert tracks([FLAT, ROCKED, later]) == [[FLAT, later], [ROCKED]]
    titles = [chart.title for chart in fit_history_charts([FLAT, ROCKED, later])]
    assert titles == ["Computed fit of SD-01", "Computed fit of SD-02"]
