"""The figures of a computed fit: traces, titles, axes, sides and proportions."""

import base64
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from fitting.charts.back_in_space import BackInSpace, back_in_space
from fitting.charts.gap_curve import GapCurves, gap_curve
from fitting.charts.load_map import LoadMap, load_map
from fitting.charts.sections import SectionOverlay, section_overlay
from fitting.charts.small_map import PALETTE, small_map
from fitting.charts.thirds import Thirds, thirds
from horses.charts.theme import CENTIMETRES, INCHES, chart

X = np.linspace(-20.0, 480.0, 51)
Y = np.array([20.0, 60.0, 100.0, 140.0])


def a_map(pressure: np.ndarray | None = None, **values):
    if pressure is None:
        pressure = np.zeros((2, len(X), len(Y)))
        pressure[0, 10, 3] = 20.0  # one hot cell, left, far out
    standard = {
        "x_mm": X,
        "y_mm": Y,
        "pressure_kpa": pressure,
        "top_kpa": 25.0,
        "last_rib_mm": 470.0,
        "stations_mm": (("S1", 38.1), ("S3", 241.3)),
    }
    return LoadMap(**{**standard, **values})


def words_on(figure) -> list[str]:
    return [annotation.text for annotation in figure.layout.annotations]


def test_left_of_the_horse_is_on_the_left_of_the_map() -> None:
    """Seen from above with the head at the top, the near side lies on the reader's left."""
    heat = load_map(a_map(), INCHES).data[0]
    row, column = np.argwhere(np.nan_to_num(np.array(heat.z, float)) == 20.0)[0]
    assert heat.x[column] == pytest.approx(-140 / 25.4)
    assert heat.y[row] == pytest.approx(X[10] / 25.4)


def test_the_head_is_at_the_top_and_both_axes_share_one_scale() -> None:
    figure = load_map(a_map(), CENTIMETRES)
    low, high = figure.layout.yaxis.range
    assert low > high
    assert figure.layout.yaxis.scaleanchor == "x"
    across = np.ptp(figure.layout.xaxis.range)
    assert figure.layout.meta["aspect"] == pytest.approx((low - high) / across)


def test_the_map_names_sides_blade_rib_and_stations() -> None:
    figure = load_map(a_map(), INCHES)
    words = " ".join(words_on(figure))
    for word in ("LEFT", "RIGHT", "head", "blade", "last rib"):
        assert word in words
    assert figure.layout.yaxis.ticktext == ("S1", "S3")
    lines = [shape.y0 for shape in figure.layout.shapes]
    assert lines == [0.0, pytest.approx(470 / 25.4)]


def test_the_scale_is_cividis_and_ends_where_it_is_told() -> None:
    heat = load_map(a_map(top_kpa=40.0), INCHES).data[0]
    assert (heat.zmin, heat.zmax) == (0, 40.0)
    assert heat.colorscale[0][1] == "#00224e"  # the dark end of cividis


def test_eleven_kpa_is_outlined_only_where_it_is_passed() -> None:
    names = [trace.name for trace in load_map(a_map(), INCHES).data]
    assert names == ["Load", "11 kPa"]
    calm = a_map(np.full((2, len(X), len(Y)), 10.9))
    assert [trace.name for trace in load_map(calm, INCHES).data] == ["Load"]


def test_outside_the_bars_the_map_is_blank_and_the_spine_is_free() -> None:
    pressure = np.full((2, len(X), len(Y)), np.nan)
    pressure[:, 5:10, 1] = 8.0
    z = np.array(load_map(a_map(pressure), INCHES).data[0].z, float)
    assert np.isfinite(z).sum() == 10
    assert np.isnan(z[:, len(Y)]).all()


def test_no_last_rib_no_line() -> None:
    figure = load_map(a_map(last_rib_mm=None), INCHES)
    assert "last rib" not in words_on(figure)


def an_overlay(**values):
    y = np.linspace(0, 180, 10)
    bar_y = np.linspace(60, 140, 5)
    standard = {
        "name": "S1",
        "back": ((y, -0.9 * y), (y, -0.5 * y)),
        "underside": ((bar_y, -0.9 * bar_y + 10), (bar_y, -0.5 * bar_y + 10)),
        "pad_mm": 19.0,
    }
    return SectionOverlay(**{**standard, **values})


def test_a_section_shows_left_on_the_left_as_seen_from_behind() -> None:
    figure = section_overlay(an_overlay(), CENTIMETRES)
    bars = {trace.name: trace for trace in figure.data if trace.name.startswith("Tree")}
    assert max(bars["Tree, left"].x) == pytest.approx(-6.0)
    assert min(bars["Tree, right"].x) == pytest.approx(6.0)
    # The left back falls more steeply, so the left bar ends lower.
    assert min(bars["Tree, left"].y) < min(bars["Tree, right"].y)
    assert words_on(figure) == ["LEFT (near)", "RIGHT (off)"]


def test_a_section_has_equal_axes_with_units() -> None:
    figure = section_overlay(an_overlay(), INCHES)
    assert figure.layout.yaxis.scaleanchor == "x"
    assert figure.layout.xaxis.title.text == "off the midline, in"
    assert figure.layout.yaxis.title.text == "height, in"


def test_the_pad_lies_under_the_bar_along_its_normal() -> None:
    figure = section_overlay(an_overlay(), CENTIMETRES)
    pad = next(trace for trace in figure.data if trace.name == "Pad")
    half = len(pad.x) // 2
    top = np.array([pad.x[:half], pad.y[:half]])
    under = np.array([pad.x[half:], pad.y[half:]])[:, ::-1]
    assert np.hypot(*(top - under)) == pytest.approx(1.9)
    assert (under[1] < top[1]).all()


def test_a_station_without_a_bar_shows_the_back_alone() -> None:
    nothing = (np.array([]), np.array([]))
    figure = section_overlay(an_overlay(underside=(nothing, nothing)), INCHES)
    assert [trace.name for trace in figure.data] == ["Back"]


def test_the_gap_has_a_line_per_side_with_its_own_dash() -> None:
    gap = np.zeros((2, len(X)))
    gap[0, 20:30] = 9.0
    figure = gap_curve(GapCurves(X, gap, last_rib_mm=470.0), INCHES)
    left, right = figure.data
    assert (left.name, right.name) == ("Left (near)", "Right (off)")
    assert (left.line.dash, right.line.dash) == ("solid", "dash")
    assert max(left.y) == 9.0
    assert max(right.y) == 0.0
    assert figure.layout.xaxis.title.text == "behind the blade, in"
    assert figure.layout.yaxis.title.text == "gap, mm"
    assert {"blade", "last rib", "8 mm: bridging"} <= set(words_on(figure))


def test_thirds_are_in_per_cent_with_a_pattern_for_the_right() -> None:
    figure = thirds(Thirds((0.27, 0.01, 0.22), (0.27, 0.01, 0.22)))
    left, right = figure.data
    assert left.x == ("Front", "Middle", "Rear")
    assert left.y == pytest.approx((27.0, 1.0, 22.0))
    assert (left.marker.pattern.shape, right.marker.pattern.shape) == ("", "/")
    assert figure.layout.yaxis.title.text == "share of the load, %"


def test_a_chart_carries_its_figure_as_data_and_its_table_as_text() -> None:
    made = chart(
        gap_curve(GapCurves(X, np.zeros((2, len(X))), None), INCHES),
        id="gap",
        title="Gap",
        head=("Station", "Left"),
        rows=[("S1", 3)],
    )
    assert made.figure_id == "gap-figure"
    assert made.table_rows == (("S1", "3"),)
    assert made.figure_json["data"][0]["name"] == "Left (near)"
    assert made.height == 300


@pytest.mark.parametrize("axis", ["xaxis", "yaxis"])
def test_no_chart_catches_the_finger_that_scrolls_the_page(axis: str) -> None:
    template = load_map(a_map(), INCHES).layout.template.layout
    assert template[axis].fixedrange
    assert template.dragmode is False


def pixels_of(source: str) -> np.ndarray:
    file = BytesIO(base64.b64decode(source.removeprefix("data:image/png;base64,")))
    return np.asarray(Image.open(file).convert("RGB")).astype(int)


def is_near(pixels: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    return (np.abs(pixels - colour) <= 2).all(axis=-1)


YELLOW, NAVY = (254, 232, 56), (0, 34, 78)  # ends of Matplotlib's table of cividis, from memory


def test_a_small_map_has_the_load_where_the_large_one_has_it() -> None:
    """The hot cell lies left and far out, a fifth of the way back: bright there, dark across."""
    pressure = np.zeros((2, len(X), len(Y)))
    pressure[0, 8:13, 2:] = 25.0
    pixels = pixels_of(small_map(a_map(pressure)).source)
    rows, columns = np.nonzero(is_near(pixels, YELLOW))
    assert columns.max() < pixels.shape[1] / 2
    assert rows.mean() / pixels.shape[0] == pytest.approx(10.5 / len(X), abs=0.03)
    mirrored = pixels_of(small_map(a_map(pressure[::-1])).source)
    assert np.nonzero(is_near(mirrored, YELLOW))[1].min() > pixels.shape[1] / 2


def test_a_small_map_uses_the_scale_it_is_told() -> None:
    pressure = np.full((2, len(X), len(Y)), 10.0)
    full = pixels_of(small_map(a_map(pressure, top_kpa=10.0)).source)
    low = pixels_of(small_map(a_map(pressure, top_kpa=1000.0)).source)
    assert is_near(full, YELLOW).any()
    assert not is_near(low, YELLOW).any()


def test_a_small_map_is_paper_off_the_bars_and_small() -> None:
    nothing = np.full((2, len(X), len(Y)), np.nan)
    made = small_map(a_map(nothing, last_rib_mm=None))
    assert not is_near(pixels_of(made.source), NAVY).any()
    assert len(made.source) < 4000
    assert made.height / made.width == pytest.approx(np.ptp(X) / 280.0, rel=0.02)


def test_a_small_map_outlines_eleven_kpa_only_where_it_is_passed() -> None:
    red = tuple(PALETTE[253 * 3 : 254 * 3])
    assert is_near(pixels_of(small_map(a_map()).source), red).any()
    calm = a_map(np.full((2, len(X), len(Y)), 10.9))
    assert not is_near(pixels_of(small_map(calm).source), red).any()


def test_in_space_left_is_left_and_the_load_lies_on_the_back() -> None:
    heights = np.zeros((2, len(X), len(Y))) - Y
    pressure = np.full((2, len(X), len(Y)), np.nan)
    pressure[0, 10:20, 1:3] = 20.0
    figure = back_in_space(BackInSpace(X, Y, heights, heights + 15.0, pressure, 25.0))
    back, load, tree = figure.data[:3]
    colours = np.array(load.surfacecolor, float)  # rows across, columns along
    across = np.nonzero(np.isfinite(colours))[0]
    assert np.array(load.y)[across].max() < 0  # +y is the horse's right
    assert np.array(load.z)[colours == 20.0].max() < np.array(back.z).max()
    assert (np.array(tree.z) > np.array(back.z)).all()
    assert (load.cmin, load.cmax) == (0, 25.0)
