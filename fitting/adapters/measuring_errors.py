"""How far off a measuring may be: from its repeats, the practice's study, or a stated default."""

from dataclasses import replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from fitting.adapters.gathering import Gathering
from fitting.engine import BackShape, Errors
from horses.measuring_error import REPEATABILITY_FACTOR
from horses.models import BackMeasurement, SectionProfile, Side
from horses.selectors.repeatability import measuring_error

MM = 1e-3
LEAST_PAIRS = 4  # sections traced twice; fewer say too little about the hand
NEVER_BELOW_MM = 0.3  # a line's width: two traces that agree by chance claim no more
WHAT = "How far off a traced half-width may be"


def errors_of(measurement: BackMeasurement, back: BackShape, account: Gathering) -> Errors:
    """Return the errors of a measuring's sections and lines [m], the rest as the engine states."""
    errors, study = Errors(), measuring_error()
    if study.is_own:
        errors = replace(errors, line=study.dip_mm * MM / REPEATABILITY_FACTOR)
    one_mm, why = _one_trace_mm(measurement, study.half_width_mm, study.source)
    account.supposed(
        WHAT, f"{one_mm:.1f} mm for one trace (standard deviation), less for the mean of two", why
    )
    account.supposed(
        "How far off everything else may be",
        "the engine's stated standard deviations",
        "tape, tip, layers and load: assumptions with their sources in the engine",
    )
    counts = _counts(measurement)
    at = tuple(
        (_of_mean(one_mm, counts, station.name, "L"), _of_mean(one_mm, counts, station.name, "R"))
        for station in back.stations
    )
    return replace(errors, half_width=one_mm * MM, half_width_at=at)


def _one_trace_mm(measurement: BackMeasurement, study_mm: float, source: str) -> tuple[float, str]:
    """Return the standard deviation of one trace [mm] and where it comes from.

    Two traces of the same section differ by sqrt 2 times it.
    """
    pairs = _pairs(measurement)
    if len(pairs) < LEAST_PAIRS:
        return study_mm / REPEATABILITY_FACTOR, source
    squares = [float(np.mean((first - second) ** 2)) for first, second in pairs]
    found = sqrt(float(np.mean(squares)) / 2)
    return max(found, NEVER_BELOW_MM), f"from {len(pairs)} sections traced twice this time"


def _pairs(measurement: BackMeasurement) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Return half-widths [mm] of both traces at the depths of the first that both reach."""
    traces: dict[tuple[str, str], list[SectionProfile]] = {}
    for section in measurement.sections.all():
        if len(section.points) >= 3:
            traces.setdefault((section.station, section.side), []).append(section)
    return [_read(*pair) for pair in traces.values() if len(pair) == 2]


def _read(
    first: SectionProfile, second: SectionProfile
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    one, other = (np.array(trace.points, float) for trace in (first, second))
    depths = one[(one[:, 0] > 0) & (one[:, 0] <= other[-1, 0]), 0]
    return np.interp(depths, *one.T), np.interp(depths, *other.T)


def _counts(measurement: BackMeasurement) -> dict[tuple[str, str], int]:
    counts: dict[tuple[str, str], int] = {}
    for section in measurement.sections.all():
        if len(section.points) >= 3:
            key = (section.station, section.side)
            counts[key] = counts.get(key, 0) + 1
    return counts


def _of_mean(one_mm: float, counts: dict[tuple[str, str], int], station: str, side: str) -> float:
    assert side in (Side.LEFT, Side.RIGHT)
    return one_mm * MM / sqrt(max(counts.get((station, side), 1), 1))
