"""Findings in the order a fitter reads them: where it hurts first, then by how far past a limit.

Each keeps its own number, limit, source and evidence; nothing is added up to a score.
"""

from dataclasses import dataclass

from fitting.adapters.felt import Felt
from fitting.adapters.measures import SIDE_WORDS, shown
from fitting.engine import LOAD_CASES, Finding

TITLES = {
    "mean_pressure_cranial": "Mean pressure, front third",
    "mean_pressure_middle": "Mean pressure, middle third",
    "mean_pressure_caudal": "Mean pressure, rear third",
    "peak_pressure_cranial": "Highest pressure, front third",
    "peak_pressure_middle": "Highest pressure, middle third",
    "peak_pressure_caudal": "Highest pressure, rear third",
    "bridging": "Gap under the middle of the bar",
    "middle_share": "Load on the middle third",
    "ahead_of_last_rib": "Support ends ahead of the last rib by",
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
}
# Which thirds a finding without a zone of its own speaks about.
ZONES = {
    "bridging": ("cranial", "caudal"),
    "rock": ("cranial", "caudal"),
    "middle_share": ("cranial", "caudal"),
    "bearing_share": ("cranial", "caudal"),
    "ahead_of_last_rib": ("caudal",),
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
ORDER = {"beyond": 0, "watch": 1, "plain": 2}
CASE_TITLES = {case.name: case.title for case in LOAD_CASES}


@dataclass(frozen=True)
class FindingRow:
    """One finding as the page shows it."""

    code: str
    level: str
    level_words: str
    title: str
    side: str
    value: str
    limit: str
    case: str
    text: str
    source: str
    evidence: str


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


def finding_row(finding: Finding) -> FindingRow:
    return FindingRow(
        code=finding.code,
        level=finding.level,
        level_words=LEVEL_WORDS[finding.level],
        title=TITLES.get(finding.code, finding.code.replace("_", " ").capitalize()),
        side=SIDE_WORDS.get(finding.side, ""),
        value=shown(finding.value, finding.unit),
        limit=shown(finding.limit, finding.unit),
        case=CASE_TITLES.get(finding.case, "Shape alone"),
        text=finding.text,
        source=f"{finding.source} ({_status_words(finding.status)})",
        evidence=EVIDENCE_WORDS.get(finding.evidence, finding.evidence),
    )


def _is_where_it_hurts(finding: Finding, felt: Felt) -> bool:
    zones = (finding.zone,) if finding.zone else ZONES.get(finding.code, ())
    return any(felt.hurts_at(zone, finding.side) for zone in zones)


def grouped(findings: tuple[Finding, ...], felt: Felt) -> tuple[FindingGroup, ...]:
    """Return the findings in groups; groups without rows are left out."""
    ranked = sorted(findings, key=lambda f: ORDER[f.level])
    spoken = [f for f in ranked if f.level != "plain"]
    here = [f for f in spoken if _is_where_it_hurts(f, felt)]
    beyond = [f for f in spoken if f not in here and f.level == "beyond"]
    watch = [f for f in spoken if f not in here and f.level == "watch"]
    plain = [f for f in ranked if f.level == "plain"]
    groups = (
        ("Where the horse is sore", here, False),
        ("Beyond a limit", beyond, False),
        ("To be watched", watch, False),
        ("Within its limit", plain, True),
    )
    return tuple(
        FindingGroup(title, tuple(finding_row(f) for f in rows), is_quiet)
        for title, rows, is_quiet in groups
        if rows
    )
