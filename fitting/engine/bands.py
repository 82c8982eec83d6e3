"""What is kept of draws and sweeps: bands, which input they come from, findings over a range."""

from __future__ import annotations

from dataclasses import dataclass

GROUPS = ("sections", "lines", "tree", "placement", "layers", "load")


@dataclass(frozen=True)
class Band:
    """A measure over the draws of its inputs: 5 %, 50 % and 95 % of them lie below.

    Attributes
    ----------
    code, zone, side, case : str
        The measure and its load case; "" for the shape's.
    low, middle, high : float
        In the measure's unit.
    """

    code: str
    zone: str
    side: str
    case: str
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Narrowing:
    """How much of a measure's variance comes from one group of inputs.

    Attributes
    ----------
    code, zone, side, case : str
        The measure a finding rests on, and the load case it was read in.
    group : str
        One of `GROUPS`.
    share : float
        Of the variance, 0 to 1.
    item : str
        The input of the group that adds most: a station, a dimension, a layer.
    """

    code: str
    zone: str
    side: str
    case: str
    group: str
    share: float
    item: str = ""


@dataclass(frozen=True)
class SweepFinding:
    """A finding at one point of a sweep."""

    code: str
    side: str
    level: str
    value: float
    unit: str


@dataclass(frozen=True)
class SweepPoint:
    """One point of a sweep.

    Attributes
    ----------
    value : float
        What was swept, in the sweep's unit.
    findings : tuple of SweepFinding
        Empty where the tree found no rest.
    """

    value: float
    findings: tuple[SweepFinding, ...]


@dataclass(frozen=True)
class Sweep:
    """One assumption over its range.

    Attributes
    ----------
    code : str
        "tissue", "pad", "height", "stirrups", "placement" or "girth".
    unit : str
        "x" (times what was assumed), "m", "1" or "N".
    assumed : float
        The value the evaluation took.
    source : str
        Of the range.
    points : tuple of SweepPoint
        In rising order; one of them is what was assumed.
    """

    code: str
    unit: str
    assumed: float
    source: str
    points: tuple[SweepPoint, ...]


@dataclass(frozen=True)
class Sensitivity:
    """All sweeps of an evaluation, by the engine that made them."""

    engine_version: str
    sweeps: tuple[Sweep, ...]
