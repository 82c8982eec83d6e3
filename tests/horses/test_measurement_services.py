"""Writing down measurements: what is stored, what is refused, what the history keeps."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError

from horses.models import BackMeasurement, LineProfile, SectionProfile
from horses.services.measurements import (
    clear_line,
    clear_section,
    record_back_measurement,
    record_line,
    record_section,
    station_distance_mm,
)
from tests.factories import dipped_line, make_horse, make_visit, section_points

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 14)


def _measured(**values: object) -> BackMeasurement:
    horse = make_horse()
    return record_back_measurement(
        horse=horse, measured_on=DAY, visit=make_visit([horse]), values=values
    )


def test_measuring_twice_on_a_visit_changes_the_one_measurement() -> None:
    horse = make_horse()
    visit = make_visit([horse])
    first = record_back_measurement(
        horse=horse,
        measured_on=DAY,
        visit=visit,
        values={"girth_mm": 1854.2},
        typed={"girth_mm": "73"},
    )
    second = record_back_measurement(
        horse=horse,
        measured_on=DAY,
        visit=visit,
        values={"length_mm": 1676.4},
        typed={"length_mm": "66 in"},
    )
    assert second.pk == first.pk
    assert (second.girth_mm, second.length_mm) == (1854.2, 1676.4)
    assert second.typed == {"girth_mm": "73", "length_mm": "66 in"}


def test_a_value_written_without_its_text_loses_the_old_text() -> None:
    measurement = _measured(girth_mm=1854.2)
    again = record_back_measurement(
        horse=measurement.horse,
        measured_on=DAY,
        visit=measurement.visit,
        values={"girth_mm": 1880.0},
        typed={},
    )
    assert "girth_mm" not in again.typed


def test_without_a_visit_each_measuring_is_its_own() -> None:
    horse = make_horse()
    for _ in range(2):
        record_back_measurement(horse=horse, measured_on=DAY, values={})
    assert BackMeasurement.objects.count() == 2


def test_saving_the_same_again_adds_nothing_to_the_history() -> None:
    measurement = _measured(girth_mm=1854.2)
    for _ in range(3):
        record_back_measurement(
            horse=measurement.horse,
            measured_on=DAY,
            visit=measurement.visit,
            values={"girth_mm": 1854.2},
        )
    assert measurement.history.count() == 1


def test_a_changed_value_is_in_the_history_beside_the_old_one() -> None:
    measurement = _measured(girth_mm=1854.2)
    record_back_measurement(
        horse=measurement.horse,
        measured_on=DAY,
        visit=measurement.visit,
        values={"girth_mm": 1880.0},
    )
    assert [row.girth_mm for row in measurement.history.all()] == [1880.0, 1854.2]


def test_a_girth_no_horse_has_is_refused_by_the_database_rule() -> None:
    with pytest.raises(ValidationError):
        _measured(girth_mm=4699.0)
    assert not BackMeasurement.objects.exists()


def test_left_and_right_sections_stay_apart() -> None:
    measurement = _measured()
    for side, width in (("L", 174.0), ("R", 158.0)):
        record_section(
            measurement=measurement,
            station="S1",
            side=side,
            trace=1,
            points=section_points(70, width),
        )
    left, right = measurement.sections.order_by("side")
    assert left.points[-1] == [150.0, 174.0]
    assert right.points[-1] == [150.0, 158.0]
    assert left.behind_blade_mm == pytest.approx(1.5 * 25.4)


def test_s5_lies_half_an_inch_ahead_of_the_last_rib() -> None:
    measurement = _measured(support_length_mm=18.5 * 25.4)
    assert station_distance_mm(measurement, "S5") == pytest.approx(18.0 * 25.4)


def test_s5_without_a_support_length_says_what_is_missing() -> None:
    with pytest.raises(ValidationError, match="support length"):
        record_section(
            measurement=_measured(),
            station="S5",
            side="L",
            trace=1,
            points=section_points(108, 229),
        )


@pytest.mark.parametrize(
    "points",
    [
        [],
        [[0, 0], [0, 10]],
        [[0, 0], [30, 70], [50, 69]],
        [[0, 0], [30, 70], [50, 70]],
        [[-10, 0], [30, 70]],
        [[0, -1], [30, 70]],
    ],
)
def test_a_section_that_does_not_widen_downward_is_refused(points: list[list[float]]) -> None:
    with pytest.raises(ValidationError):
        record_section(measurement=_measured(), station="S1", side="L", trace=1, points=points)
    assert not SectionProfile.objects.exists()


def test_a_section_can_be_taken_out_again_and_the_history_keeps_it() -> None:
    measurement = _measured()
    record_section(
        measurement=measurement, station="S1", side="L", trace=1, points=section_points(70, 174)
    )
    clear_section(measurement=measurement, station="S1", side="L", trace=1)
    assert not measurement.sections.exists()
    assert SectionProfile.history.filter(history_type="-").count() == 1


def test_a_line_is_stored_from_its_first_point_whatever_it_was_read_from() -> None:
    line = record_line(
        measurement=_measured(),
        line="left_bar",
        points=[[0, 1500], [240, 1482], [460, 1490]],
        off_midline_mm=88,
    )
    assert line.points == [[0.0, 0.0], [240.0, -18.0], [460.0, -10.0]]


def test_the_midline_runs_on_the_midline() -> None:
    line = record_line(
        measurement=_measured(), line="midline", points=dipped_line(14), off_midline_mm=88
    )
    assert line.off_midline_mm == 0


def test_a_line_can_be_taken_out_again() -> None:
    measurement = _measured()
    record_line(measurement=measurement, line="midline", points=dipped_line(14))
    clear_line(measurement=measurement, line="midline")
    assert not LineProfile.objects.exists()


def test_line_distances_must_increase() -> None:
    with pytest.raises(ValidationError, match="increase"):
        record_line(measurement=_measured(), line="midline", points=[[100, 0], [50, 1]])
