"""What the horse's page shows that belongs to tack, visits and people."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from fitting.checks import BEHAVIOUR_SIGNS, RED_FLAG_SIGNS
from fitting.models import FitEvaluation, HandCheck, Pairing, Verdict
from horses.models import Horse
from horses.seasons import Change
from practice.models import HorseRole, VisitHorse

WATCH_DAYS = 30  # a verdict that runs out sooner is pointed out
SLIP_CODE = "slip"
VET_FIRST = Verdict.Word.VET_FIRST
WORD_LEVELS: dict[str, str] = {
    Verdict.Word.CARRY_ON: "plain",
    Verdict.Word.SMALL_CHANGES: "watch",
    Verdict.Word.SHORT_RIDES: "watch",
    Verdict.Word.COULD_NOT_JUDGE: "unknown",
}


@dataclass(frozen=True)
class PairingState:
    """A pairing with its last verdict and last computed fit."""

    pairing: Pairing
    verdict: Verdict | None
    evaluation: FitEvaluation | None
    day: date

    @property
    def level(self) -> str:
        return level_of(self.verdict)

    @property
    def has_run_out(self) -> bool:
        return self.verdict is not None and self.verdict.expires_on < self.day

    @property
    def runs_out_soon(self) -> bool:
        if self.verdict is None or self.has_run_out:
            return False
        return (self.verdict.expires_on - self.day).days <= WATCH_DAYS


def level_of(verdict: Verdict | None) -> str:
    """Return how strongly a page marks a verdict."""
    return "unknown" if verdict is None else WORD_LEVELS.get(verdict.word, "beyond")


def horse_for_page(pk: int) -> Horse:
    return get_object_or_404(Horse.objects.select_related("place"), pk=pk)


def pairings_through_time(horse: Horse) -> list[Pairing]:
    """Return every pairing with verdicts and computed fits (latest first), oldest pairing first."""
    verdicts = Verdict.objects.select_related("signed_by").order_by("-signed_at", "-pk")
    done = FitEvaluation.objects.filter(state=FitEvaluation.State.DONE)
    light = done.defer("inputs", "result").order_by("-evaluated_on", "-pk")
    return list(
        Pairing.objects.filter(horse=horse)
        .select_related("saddle__tree", "pad", "rider")
        .prefetch_related(
            Prefetch("verdicts", verdicts, to_attr="latest_verdicts"),
            Prefetch("evaluations", light, to_attr="latest_evaluations"),
        )
        .order_by("from_date", "pk")
    )


def states_of(pairings: Sequence[Pairing], day: date) -> list[PairingState]:
    """Return the pairings as they stand on `day`, latest first."""
    return [
        PairingState(
            pairing,
            next(iter(pairing.latest_verdicts), None),  # type: ignore[attr-defined]
            next(iter(pairing.latest_evaluations), None),  # type: ignore[attr-defined]
            day,
        )
        for pairing in reversed(pairings)
    ]


def evaluations_in(pairings: Sequence[Pairing]) -> list[FitEvaluation]:
    """Return the latest computed fit of each pairing and day, oldest first."""
    latest: dict[tuple[int, date], FitEvaluation] = {}
    for pairing in pairings:
        for evaluation in reversed(pairing.latest_evaluations):  # type: ignore[attr-defined]
            evaluation.pairing = pairing
            latest[pairing.pk, evaluation.evaluated_on] = evaluation
    return sorted(latest.values(), key=lambda e: (e.evaluated_on, e.pairing.from_date, e.pk))


def changes_in(pairings: Sequence[Pairing]) -> list[Change]:
    """Return the days on which saddle, pad, shims, rider or work changed (oldest pairing first).

    A pairing that takes over from one with the same saddle names only what is new. One begun
    anew with the same pad and shims stands for work on the saddle itself: a head opened, wool.
    """
    changes = []
    for index, pairing in enumerate(pairings):
        before = [p for p in pairings[:index] if p.saddle_id == pairing.saddle_id]
        words = _what_is_new(pairing, before[-1] if before else None)
        changes.append(Change(pairing.from_date, words, pairing.to_date))
    return changes


def _what_is_new(pairing: Pairing, before: Pairing | None) -> str:
    tag = pairing.saddle.tag
    gap = before is not None and before.to_date is not None and before.to_date < pairing.from_date
    if before is None or (gap and (pairing.from_date - before.to_date).days > 1):  # type: ignore[operator]
        return tag
    if before.pad_id != pairing.pad_id:
        return f"{tag}: {pairing.pad.name if pairing.pad else 'no pad'}"
    if shims_of(before) != shims_of(pairing):
        return f"{tag}: shims"
    if before.rider_id != pairing.rider_id:
        return f"{tag}: rider"
    is_same_work = (before.use, before.hours_per_day) == (pairing.use, pairing.hours_per_day)
    return f"{tag}: adjusted" if is_same_work else f"{tag}: work"


def shims_of(pairing: Pairing) -> tuple[float, ...]:
    """Return the four shims in mm: front left and right, rear left and right."""
    return (
        pairing.shim_front_left_mm,
        pairing.shim_front_right_mm,
        pairing.shim_rear_left_mm,
        pairing.shim_rear_right_mm,
    )


def visits_of_horse(horse: Horse) -> QuerySet[VisitHorse]:
    """Return the horse's place on each visit, latest first, with how often its report was sent."""
    return (
        VisitHorse.objects.filter(horse=horse)
        .select_related("visit__client", "visit__place", "visit__fitter")
        .annotate(link_count=Count("share_links"))
        .order_by("-visit__starts_at", "-pk")
    )


def people_of_horse(horse: Horse) -> QuerySet[HorseRole]:
    """Return owners and others, current ones first."""
    return HorseRole.objects.filter(horse=horse).select_related("client")


def slips_of_horse(horse: Horse) -> list[HandCheck]:
    """Return the ridden slip checks of the last visit that had one."""
    checks = HandCheck.objects.filter(pairing__horse=horse, code=SLIP_CODE).select_related(
        "pairing__saddle", "visit"
    )
    rows = list(checks.order_by("-visit__starts_at", "-pk")[:8])
    return [row for row in rows if row.visit_id == rows[0].visit_id]


def fitting_flags(
    states: Sequence[PairingState], slips: Sequence[HandCheck], visits: Sequence[VisitHorse]
) -> list[str]:
    """Return red flags that stand in verdicts, ridden checks and the owner's history."""
    flags = [
        f"The verdict on {state.pairing.saddle.tag}: {state.verdict.get_word_display()}."
        for state in states
        if state.pairing.is_current and state.verdict and state.verdict.word == VET_FIRST
    ]
    flags += [
        f"{slip.pairing.saddle.tag} keeps slipping to one side (seen {_day(slip)})."
        for slip in slips
        if slip.outcome == HandCheck.Outcome.BAD
    ]
    return flags + _new_signs(visits)


def _day(check: HandCheck) -> str:
    return f"{check.visit.starts_local:%d %b %Y}"


def _new_signs(visits: Sequence[VisitHorse]) -> list[str]:
    """Return the behaviours of the last history that weren't in the one before."""
    taken = [row for row in visits if row.history_taken][:2]
    if not taken:
        return []
    before = set(taken[1].behaviour) if len(taken) > 1 else set()
    new = [s for s in taken[0].behaviour if s in RED_FLAG_SIGNS and s not in before]
    return [f"New behaviour: {BEHAVIOUR_SIGNS[sign].lower()}." for sign in new]
