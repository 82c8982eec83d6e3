"""What an evaluation gives: fields and measures by load case, findings, and what builds on them.

Plain data, kept by `storage`. Bands, allowances and the rest are empty where they were not asked
for.
"""

from __future__ import annotations

from dataclasses import dataclass

from .bands import Band, Narrowing
from .findings import Finding
from .measures import Measure
from .profiles import Array
from .sections import Section


@dataclass(frozen=True)
class Allowance:
    """How much of something the fit takes before a finding passes its limit.

    Attributes
    ----------
    code : str
        tip_room_front, tip_room_rear [m]: how far off the back each tip stands in `case`.
        tip_turn_front, tip_turn_rear [rad]: how far the tree tips as its load moves that way,
        before the first tip there carries.
        bend [rad]: of the back to each side, over 17 in. rope [N]: pull at the horn.
        see_saw [rad]: how far it tips when a hand presses one end, then the other, girth loose.
    value : float
        In `unit`.
    unit : str
    side : str
        Of the tip, or to which the back bends; "" for both.
    case : str
        Load case it starts from, or that grows.
    reached : bool
        False where the sweep ended before a limit was passed: at least this much.
    limit : str
        Code of the finding that is passed first, "tip_carries" for a tip; "" where none was.
    """

    code: str
    value: float
    unit: str
    side: str = ""
    case: str = ""
    reached: bool = True
    limit: str = ""


@dataclass(frozen=True)
class PlacementPoint:
    """The fit with the tree at another place along the back; how it is found: see `placing`.

    Attributes
    ----------
    tip, shift : float
        Front tip behind the blade, and from where it was placed, to the rear positive [m].
    levels : tuple of (str, str, float)
        Code, level and value of each finding, the worse side; empty where it finds no rest there.
    push : float
        What contact and girth push it with along the back, to the rear positive [N].
    settles : bool
        True at the place it creeps to.
    """

    tip: float
    shift: float
    levels: tuple[tuple[str, str, float], ...] = ()
    push: float = float("nan")
    settles: bool = False


@dataclass(frozen=True)
class Suggestion:
    """A verdict that what is known suggests, with its reasons; the fitter decides and signs.

    Attributes
    ----------
    word : str
        Key of a verdict.
    reasons : tuple of str
        Codes of the findings it rests on; what was found by hand or is missing, in words.
    overruled_by : str
        "safety", "red_flag", "soreness" or "missing" where that stands above the numbers.
    numbers : str
        Key of the verdict that the findings alone would suggest; "" without findings.
    evidence : str
        The best evidence among the findings it rests on, as in `Finding`; "" for none.
    """

    word: str
    reasons: tuple[str, ...] = ()
    overruled_by: str = ""
    numbers: str = ""
    evidence: str = ""


@dataclass(frozen=True, eq=False)
class CaseResult:
    """One load case.

    Attributes
    ----------
    name, title, short : str
    pose : tuple of float
        Heave [m], pitch and roll [rad].
    pressure, gap : (2, n, m) arrays
        On the grid of the result; pressure 0 and gap nan where there is no tree; a negative gap is
        compression of the layers [Pa], [m].
    row_gap : (2, n) array
        Smallest gap across the bar along each side [m].
    residual : float
        Force out of balance over the load.
    iterations : int
    measures : tuple of Measure
    """

    name: str
    title: str
    pose: tuple[float, float, float]
    pressure: Array
    gap: Array
    row_gap: Array
    residual: float
    iterations: int
    measures: tuple[Measure, ...]
    short: str = ""

    def value(self, code: str, zone: str = "", side: str = "") -> float:
        """Return one measure's value; nan where it was not taken."""
        return value_of(self.measures, code, zone, side)


@dataclass(frozen=True, eq=False)
class FitResult:
    """What came out.

    Attributes
    ----------
    engine_version : str
    x : (n,), y : (m,), z : (2, n, m) arrays
        Cell centres behind the blade, off the midline (outward), and heights of the back [m].
    cases : tuple of CaseResult
    sections : tuple of Section
        Back and tree, cut across, standing with rider (the first load case).
    measures : tuple of Measure
        What depends on no load.
    findings : tuple of Finding
    warnings : tuple of str
    passes : int
        Times the contact was solved about the attitude found, at most.
    allowances, bands, narrowing, suggestion, placement_sweep
        What was asked for beyond the fit as it stands.
    seed, draws : int or None, int
        Of the bands.
    """

    engine_version: str
    x: Array
    y: Array
    z: Array
    cases: tuple[CaseResult, ...]
    sections: tuple[Section, ...]
    measures: tuple[Measure, ...]
    findings: tuple[Finding, ...]
    warnings: tuple[str, ...]
    passes: int
    allowances: tuple[Allowance, ...] = ()
    bands: tuple[Band, ...] = ()
    narrowing: tuple[Narrowing, ...] = ()
    suggestion: Suggestion | None = None
    placement_sweep: tuple[PlacementPoint, ...] = ()
    seed: int | None = None
    draws: int = 0

    def case(self, name: str) -> CaseResult:
        """Return a load case by name; KeyError where it was not computed."""
        found = {case.name: case for case in self.cases}
        return found[name]

    def value(self, code: str, zone: str = "", side: str = "") -> float:
        """Return one measure that depends on no load; nan where it was not taken."""
        return value_of(self.measures, code, zone, side)


def value_of(measures: tuple[Measure, ...], code: str, zone: str, side: str) -> float:
    """Return the first measure of a code, zone and side; nan where there is none."""
    for m in measures:
        if (m.code, m.zone, m.side) == (code, zone, side):
            return m.value
    return float("nan")
