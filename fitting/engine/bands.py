"""What is kept of the draws: bands of measures, and which input they come from."""

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
