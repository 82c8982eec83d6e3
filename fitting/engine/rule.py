"""What a limit is: one entry among the rules, as data."""

from __future__ import annotations

from dataclasses import dataclass

Range = tuple[float, float]
SHAPE: tuple[str, ...] = ()  # reads the shape alone, no load case


@dataclass(frozen=True)
class Rule:
    """One limit.

    Attributes
    ----------
    code, measure, zone : str
        Name of the finding; the measure it reads and its zone.
    reads : tuple of str
        Groups of load cases it reads, as named in `LoadCase.feeds`; () for the shape alone.
    plain, beyond : tuple of float
        Lower and upper bound, in the measure's unit.
    unit, source, status : str
        `status` as in the module's docstring.
    texts : tuple of str
        What to say when watched, and when past the limit.
    is_per_side : bool
        Report left and right apart; otherwise the worse of the two.
    is_pressure : bool
        Rests on computed pressure; low evidence under bar trees, for want of published readings.
    """

    code: str
    measure: str
    zone: str
    reads: tuple[str, ...]
    plain: Range
    beyond: Range
    unit: str
    source: str
    status: str
    texts: tuple[str, str]
    is_per_side: bool = False
    is_pressure: bool = False
