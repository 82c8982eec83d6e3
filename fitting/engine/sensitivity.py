"""How the findings move when something assumed is swept over its range, one thing at a time.

The sweeps are whole evaluations. They show which findings hang on an assumption: a finding that
keeps its level over every range stands on the measurements alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from .bands import Sensitivity, Sweep, SweepFinding, SweepPoint
from .draws import stiffened_in
from .errors import EngineError
from .evaluate import evaluate_fit
from .findings import Finding
from .inputs import FitInputs, Placement
from .results import FitResult

POINTS = 5


@dataclass(frozen=True, eq=False)
class _Range:
    code: str
    unit: str
    assumed: float
    values: tuple[float, ...]
    source: str
    change: Callable[[FitInputs, float], FitInputs]


def sensitivity_of(inputs: FitInputs, result: FitResult) -> Sensitivity:
    """Sweep every assumption over its range.

    Parameters
    ----------
    inputs : FitInputs
    result : FitResult
        Of those inputs; it stands at each sweep's assumed value.

    Returns
    -------
    Sensitivity
    """
    sweeps = tuple(_swept(inputs, result, each) for each in _ranges(inputs))
    return Sensitivity(result.engine_version, sweeps)


def _swept(inputs: FitInputs, result: FitResult, over: _Range) -> Sweep:
    values = sorted({*over.values, over.assumed})
    points = tuple(
        SweepPoint(
            value,
            _read(result.findings if value == over.assumed else _at(over.change(inputs, value))),
        )
        for value in values
    )
    return Sweep(over.code, over.unit, over.assumed, over.source, points)


def _at(inputs: FitInputs) -> tuple[Finding, ...]:
    try:
        return evaluate_fit(inputs).findings
    except EngineError:
        return ()


def _read(findings: tuple[Finding, ...]) -> tuple[SweepFinding, ...]:
    return tuple(SweepFinding(f.code, f.side, f.level, f.value, f.unit) for f in findings)


def _ranges(inputs: FitInputs) -> list[_Range]:
    tip, loads = inputs.placement.tip, inputs.loads
    out = [
        _Range(
            "tissue",
            "x",
            1.0,
            (0.5, 0.71, 1.4, 2.0, 3.3),
            "30 to 200 kPa about 60: human muscle (Isogai et al. 2022, J Phys Ther Sci "
            "34:777-783); no horse's back has been measured",
            lambda given, x: stiffened_in(given, "tissue", x),
        ),
        _Range(
            "placement",
            "m",
            tip,
            tuple(tip + step for step in (-0.020, -0.010, 0.010, 0.020)),
            "20 mm to the front and to the rear of where it was placed; set here",
            lambda given, x: replace(given, placement=Placement(x)),
        ),
    ]
    if inputs.layers.pad is not None:
        out.insert(
            1,
            _Range(
                "pad",
                "x",
                1.0,
                (0.5, 0.71, 1.22, 1.5),
                "20 to 60 kPa at a quarter's compression, about 40, for firm felt; common "
                "practice, no source",
                lambda given, x: stiffened_in(given, "pad", x),
            ),
        )
    if loads.rider_mass > 0:
        out += _rider_ranges(inputs)
    if loads.girth_tension > 0:
        out.append(
            _Range(
                "girth",
                "N",
                loads.girth_tension,
                (59.0, 88.0, 132.0, 177.0),
                "6 to 18 kg on each side, set standing (Wright 2010, Comp Exerc Physiol)",
                lambda given, x: replace(given, loads=replace(given.loads, girth_tension=x)),
            )
        )
    return out


def _rider_ranges(inputs: FitInputs) -> list[_Range]:
    height, share = inputs.loads.rider_height, inputs.loads.stirrup_share
    return [
        _Range(
            "height",
            "m",
            height,
            tuple(float(h) for h in np.linspace(0.20, 0.30, POINTS)),
            "0.2 to 0.3 m above the bars; assumption",
            lambda given, x: replace(given, loads=replace(given.loads, rider_height=x)),
        ),
        _Range(
            "stirrups",
            "1",
            share,
            (0.0, 0.1, 0.3, 0.4),
            "None to two fifths of the rider's weight; assumption",
            lambda given, x: replace(given, loads=replace(given.loads, stirrup_share=x)),
        ),
    ]
