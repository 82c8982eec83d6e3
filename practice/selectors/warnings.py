"""What stands above everything else on a page: vet first, rest first, unsafe."""

from dataclasses import dataclass

from fitting.checks import BEHAVIOUR_SIGNS, MANY_SIGNS, RED_FLAG_SIGNS, RIDDEN
from fitting.models import HandCheck, Pairing, SafetyCheck
from horses.adapters.profiles import soreness_point
from horses.models import Site, SorenessCheck
from horses.red_flags import soreness_flags
from horses.rest_first import rest_reasons
from practice.models import VisitHorse
from practice.selectors.recording import Recorded

SLIP_LIMIT_MM = 10.0
# Dyson and Pollard 2020, Animals 10:1044: 8 of 24 behaviours or more, likely pain.
ETHOGRAM_LIMIT = 8


@dataclass(frozen=True)
class Warnings:
    """Reasons, in plain words, for the three things that come before any fit."""

    vet: list[str]
    rest: list[str]
    unsafe: list[str]


def warnings_for(recorded: Recorded, pairing: Pairing | None = None) -> Warnings:
    """Return the warnings for a horse on a visit; with a pairing, its saddle's too."""
    check = recorded.check
    pairings = [p for p in recorded.pairings if pairing is None or p.pk == pairing.pk]
    vet = _felt(check, recorded.last_check) + _told(recorded.visit_horse)
    for each in pairings:
        vet += _slips(each)
    return Warnings(
        vet=vet,
        rest=rest_reasons(check.scores.all()) if check else [],
        unsafe=[str(each.saddle) for each in pairings if _is_unsafe(each)],
    )


def _felt(check: SorenessCheck | None, before: SorenessCheck | None) -> list[str]:
    if check is None:
        return []
    rows = check.scores.all()
    return soreness_flags(
        soreness_point(check),
        soreness_point(before) if before else None,
        hot_and_swollen=[(row.site, row.side) for row in rows if row.is_warm and row.swelling_mm],
        site_words={site.value: str(site.label) for site in Site},
    )


def _told(visit_horse: VisitHorse) -> list[str]:
    signs = [code for code in visit_horse.behaviour if code in BEHAVIOUR_SIGNS]
    told = [
        f"The owner reports: {BEHAVIOUR_SIGNS[code].lower()}."
        for code in signs
        if code in RED_FLAG_SIGNS
    ]
    if len(signs) >= MANY_SIGNS:
        told.append(f"{len(signs)} behaviour signs reported.")
    count = visit_horse.pain_ethogram_count
    if count is not None and count >= ETHOGRAM_LIMIT:
        told.append(f"Ethogram: {count} of 24 behaviours, from 8 on likely to go with pain.")
    return told


def _slips(pairing: Pairing) -> list[str]:
    return [
        f"{pairing.saddle} slips to one side."
        for check in pairing.hand_checks.all()
        if check.phase == RIDDEN and check.code == "slip" and _is_one_sided(check)
    ]


def _is_one_sided(check: HandCheck) -> bool:
    if check.outcome != HandCheck.Outcome.BAD:
        return False
    left, right = check.left_mm or 0.0, check.right_mm or 0.0
    return abs(left - right) > SLIP_LIMIT_MM or (check.left_mm is None and check.right_mm is None)


def _is_unsafe(pairing: Pairing) -> bool:
    checks = pairing.saddle.safety_checks.all()
    return any(check.result == SafetyCheck.Result.UNSAFE for check in checks)
