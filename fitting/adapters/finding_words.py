"""Findings in the order a fitter reads them: where it hurts first, then by how far past a limit.

Each keeps its own number, limit, source and evidence; nothing is added up to a score.
"""

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fitting.adapters.felt import Felt
from fitting.adapters.measures import SIDE_WORDS, shown
from fitting.engine import LOAD_CASES, RULES, Finding
from horses.charts.theme import LengthUnit

TITLES = {
    "mean_pressure_cranial": "Mean pressure, front third",
    "mean_pressure_middle": "Mean pressure, middle third",
    "mean_pressure_caudal": "Mean pressure, rear third",
    "peak_pressure_cranial": "Highest pressure, front third",
    "peak_pressure_middle": "Highest pressure, middle third",
    "peak_pressure_caudal": "Highest pressure, rear third",
    "peak_pressure_walk": "Highest pressure at walk, front third",
    "peak_pressure_canter": "Highest pressure at canter, front third",
    "bridging": "Gap under the middle of the bar",
    "middle_share": "Load on the middle third, of an even share",
    "ahead_of_last_rib": "Support ends ahead of the last rib by",
    "share_behind_last_rib": "Load behind the last rib",
    "behind_blade": "Support begins behind the blade by",
    "angle_cranial": "Front of the bar against the back",
    "angle_caudal": "Rear of the bar against the back",
    "twist": "Twist of the bar against the back",
    "rock": "Rock of the bar against the back",
    "load_ratio": "Load carried, of the horse's weight",
    "channel_width": "Narrowest part of the channel",
    "withers_clearance": "Room over the withers, rider up",
    "bearing_share": "Bearing part that bears",
    "left_right": "Load on the left side",
    "stability": "Hold against a leaning rider",
    "bar_set": "Set the bar has taken, over 17 in",
    "set_difference": "Set of the left bar less the right one's",
    "stiffness_ratio": "Stiffer bar over the softer one",
    "friction_demand": "Pull of the rope over what presses the saddle down",
}
# Which thirds a finding speaks about where that is not the zone it was read in.
ZONES = {
    "bridging": ("cranial", "caudal"),
    "rock": ("cranial", "caudal"),
    "middle_share": ("cranial", "caudal"),
    "bearing_share": ("cranial", "caudal"),
    "ahead_of_last_rib": ("caudal",),
    "share_behind_last_rib": ("caudal",),
    "behind_blade": ("cranial",),
    "withers_clearance": ("cranial",),
}
LEVEL_WORDS = {"beyond": "Beyond the limit", "watch": "Watch", "plain": "Within"}
EVIDENCE_WORDS = {
    "published": "Published limit.",
    "practice": "Common practice or our own rule; no published limit.",
    "low": "Low evidence here: the limit was read under English saddles, not under bars.",
}
STATUS_WORDS = {
    "V-A": "read in the paper's abstract",
    "V-S": "at second hand",
    "V-M": "read in an old manual",
    "C": "common practice, no source",
    "D": "set here",
}
GROUP_TITLES = (
    "Where the horse is sore",
    "Beyond a limit",
    "To be watched",
    "Within its plain range",
)
RULE_OF = {rule.code: rule for rule in RULES}
ORDER = {"beyond": 0, "watch": 1, "plain": 2}
CASE_TITLES = {case.name: case.title for case in LOAD_CASES}


# Distances along the back, which are read in the practice's unit rather than in mm.
LONG = frozenset({"ahead_of_last_rib", "behind_blade"})


@dataclass(frozen=True)
class Reading:
    """The number of one side ("" when there are no sides) and its level."""

    side: str
    value: str
    level: str


@dataclass(frozen=True)
class FindingRow:
    """One finding as the page shows it, both sides together; the level is the worse one's."""

    code: str
    level: str
    level_words: str
    title: str
    readings: tuple[Reading, ...]
    limit: str
    case: str
    text: str
    source: str
    evidence: str
    likelihood: str = ""
    bands: tuple[str, ...] = ()
    narrowing: str = ""

    @property
    def value(self) -> str:
        return " / ".join(reading.value for reading in self.readings)


@dataclass(frozen=True)
class FindingGroup:
    """Findings under one heading; the last group is folded away on the page."""

    title: str
    rows: tuple[FindingRow, ...]
    is_quiet: bool = False


def _status_words(status: str) -> str:
    """Spell out the codes of a status such as "V-A; band D"."""
    parts = []
    for part in status.split(";"):
        *what, code = part.split()
        said = STATUS_WORDS.get(code, code)
        parts.append(f"{' '.join(what)} {said}".strip())
    return "; ".join(parts)


def _plain(low: float, high: float, say: Callable[[float], str]) -> str:
    """Return a range in words: "up to 11 kPa", "from 0 mm", "-3 mm to 5 mm"."""
    if math.isinf(high):
        return f"from {say(low)}"
    return f"up to {say(high)}" if low == 0 else f"{say(low)} to {say(high)}"


def _limit(low: float, high: float, say: Callable[[float], str]) -> str:
    if math.isinf(high):
        return say(low) if low else "none published"
    return say(high) if low == 0 else f"{say(low)} or {say(high)}"


def limit_words(finding: Finding, unit: LengthUnit) -> str:
    """Return the plain range and the limit of a finding's rule.

    A rule that this engine no longer has is shown with the limit frozen in the finding.
    """
    say = _say(finding, unit)
    rule = RULE_OF.get(finding.code)
    if rule is None:
        return f"limit {say(finding.limit)}"
    return f"plain {_plain(*rule.plain, say)}, limit {_limit(*rule.beyond, say)}"


def _say(finding: Finding, unit: LengthUnit) -> Callable[[float], str]:
    long = unit if finding.code in LONG else None
    return lambda value: shown(value, finding.unit, long)


def _case_words(finding: Finding) -> str:
    """Say under which load the number holds; the load's own share comes from the scales."""
    if finding.code == "load_ratio":
        return "Weights alone"
    return CASE_TITLES.get(finding.case, "Shape alone")


def finding_row(findings: Sequence[Finding], unit: LengthUnit) -> FindingRow:
    """Return one row for a finding, or for the two sides of it."""
    worst = min(findings, key=lambda f: ORDER[f.level])
    by_side = sorted(findings, key=lambda f: f.side)
    return FindingRow(
        code=worst.code,
        level=worst.level,
        level_words=LEVEL_WORDS[worst.level],
        title=TITLES.get(worst.code, worst.code.replace("_", " ").capitalize()),
        readings=tuple(
            Reading(SIDE_WORDS.get(f.side, ""), _say(f, unit)(f.value), f.level) for f in by_side
        ),
        limit=limit_words(worst, unit),
        case=_case_words(worst),
        text=worst.text,
        source=f"{worst.source} ({_status_words(worst.status)})",
        evidence=EVIDENCE_WORDS.get(worst.evidence, worst.evidence),
    )


def _is_where_it_hurts(finding: Finding, felt: Felt) -> bool:
    zones = ZONES.get(finding.code, (finding.zone,) if finding.zone else ())
    return any(felt.hurts_at(zone, finding.side) for zone in zones)


def _place_of(findings: Sequence[Finding], felt: Felt) -> int:
    """Return which group a finding (both sides) belongs to: 0 sore, 1 beyond, 2 watch, 3 plain."""
    levels = {f.level for f in findings}
    if levels == {"plain"}:
        return 3
    if any(f.level != "plain" and _is_where_it_hurts(f, felt) for f in findings):
        return 0
    return 1 if "beyond" in levels else 2


def grouped(
    findings: tuple[Finding, ...], felt: Felt, unit: LengthUnit
) -> tuple[FindingGroup, ...]:
    """Return the findings in groups, both sides of one together; empty groups are left out."""
    pairs: dict[str, list[Finding]] = defaultdict(list)
    for finding in findings:
        pairs[finding.code].append(finding)
    members: dict[int, list[FindingRow]] = defaultdict(list)
    for pair in pairs.values():
        members[_place_of(pair, felt)].append(finding_row(pair, unit))
    return tuple(
        FindingGroup(
            title, tuple(sorted(members[i], key=lambda row: ORDER[row.level])), is_quiet=i == 3
        )
        for i, title in enumerate(GROUP_TITLES)
        if members[i]
    )
