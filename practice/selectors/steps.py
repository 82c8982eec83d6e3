"""The steps of recording and how far each one is."""

from dataclasses import dataclass

from fitting.checks import BARE, PAD, RIDDEN, hand_checks_of
from fitting.models import FitEvaluation, Pairing
from horses.models import BackMeasurement, LineProfile, Site, Station, sides_of
from practice.selectors.recording import Recorded

EMPTY, BEGUN, DONE, TO_CORRECT = "empty", "begun", "done", "to_correct"
STATE_WORDS = {
    EMPTY: "Empty",
    BEGUN: "Begun",
    DONE: "Done",
    TO_CORRECT: "Needs correction",
}
STATE_LEVEL = {EMPTY: "unknown", BEGUN: "watch", DONE: "plain", TO_CORRECT: "beyond"}

HORSE_STEPS: dict[str, str] = {
    "history": "History",
    "body": "Stance and body",
    "soreness": "Soreness by hand",
    **{station.value.lower(): f"Section {station.label}" for station in Station},
    "lines": "Lines along the back",
}
PAIRING_STEPS: dict[str, str] = {
    "safety": "Saddle check, off the horse",
    BARE: "On the horse, no pad",
    PAD: "With the working pad",
    RIDDEN: "With the rider",
    "evaluation": "Computed fit",
    "verdict": "Verdict",
}
SITES_AND_SIDES = sum(len(sides_of(site)) for site in Site.values)
BODY_NEEDED = (
    "stood_square",
    "girth_mm",
    "length_mm",
    "height_mm",
    "condition_score",
    "support_length_mm",
)


def pairing_draft(pairing_pk: int, step: str) -> str:
    """Return the name under which a draft of a pairing's step is kept."""
    return f"p{pairing_pk}-{step}"


@dataclass(frozen=True)
class StepState:
    """One step: where it leads and how far it is."""

    slug: str
    title: str
    state: str
    detail: str = ""
    pairing_pk: int | None = None

    @property
    def words(self) -> str:
        return STATE_WORDS[self.state]

    @property
    def level(self) -> str:
        return STATE_LEVEL[self.state]


@dataclass(frozen=True)
class PairingSteps:
    """A pairing with its steps."""

    pairing: Pairing
    steps: list[StepState]


Progress = tuple[str, str]


def horse_steps(recorded: Recorded) -> list[StepState]:
    """Return the steps that belong to the horse, whatever saddle it wears."""
    measurement = recorded.measurement
    progress: dict[str, Progress] = {
        "history": _history(recorded),
        "body": _body(measurement),
        "soreness": _soreness(recorded),
        "lines": _lines(measurement),
    }
    for station in Station.values:
        progress[station.lower()] = _section(measurement, station)
    return [
        _step(slug, title, progress[slug], draft=slug in recorded.drafts)
        for slug, title in HORSE_STEPS.items()
    ]


def pairing_steps(recorded: Recorded, pairing: Pairing) -> PairingSteps:
    """Return the steps of one pairing."""
    progress: dict[str, Progress] = {
        "safety": _safety(pairing),
        **{phase: _hand_checks(pairing, phase) for phase in (BARE, PAD, RIDDEN)},
        "evaluation": _evaluation(pairing),
        "verdict": _verdict(recorded, pairing),
    }
    steps = []
    for slug, title in PAIRING_STEPS.items():
        draft = slug != "verdict" and pairing_draft(pairing.pk, slug) in recorded.drafts
        steps.append(_step(slug, title, progress[slug], draft=draft, pairing_pk=pairing.pk))
    return PairingSteps(pairing, steps)


def all_steps(recorded: Recorded) -> list[StepState]:
    """Return every step of a horse's visit in the order of work."""
    of_pairings = [s for p in recorded.pairings for s in pairing_steps(recorded, p).steps]
    return horse_steps(recorded) + of_pairings


def _step(
    slug: str, title: str, progress: Progress, *, draft: bool, pairing_pk: int | None = None
) -> StepState:
    state, detail = progress
    if draft:
        state, detail = TO_CORRECT, "typed, not saved yet"
    return StepState(slug, title, state, detail, pairing_pk)


def _by_count(count: int, of: int) -> Progress:
    if count == 0:
        return EMPTY, ""
    return (DONE if count >= of else BEGUN), f"{count} of {of}"


def _history(recorded: Recorded) -> Progress:
    return (DONE if recorded.visit_horse.history_taken else EMPTY), ""


def _body(measurement: BackMeasurement | None) -> Progress:
    if measurement is None:
        return EMPTY, ""
    filled = sum(getattr(measurement, name) is not None for name in BODY_NEEDED)
    return _by_count(filled, len(BODY_NEEDED))


def _soreness(recorded: Recorded) -> Progress:
    entered = len(recorded.check.scores.all()) if recorded.check else 0
    return _by_count(entered, SITES_AND_SIDES)


def _section(measurement: BackMeasurement | None, station: str) -> Progress:
    if measurement is None:
        return EMPTY, ""
    halves = [s for s in measurement.sections.all() if s.station == station and s.points]
    return _by_count(len(halves), 4)


def _lines(measurement: BackMeasurement | None) -> Progress:
    lines = [line for line in measurement.lines.all() if line.points] if measurement else []
    return _by_count(len({line.line for line in lines}), len(LineProfile.Line.values))


def _safety(pairing: Pairing) -> Progress:
    checks = pairing.saddle.safety_checks.all()
    if not checks:
        return EMPTY, ""
    result = checks[0].result
    return (DONE if result else BEGUN), str(checks[0].get_result_display()) if result else ""


def _hand_checks(pairing: Pairing, phase: str) -> Progress:
    done = sum(1 for check in pairing.hand_checks.all() if check.phase == phase)
    return _by_count(done, len(hand_checks_of(phase)))


def _evaluation(pairing: Pairing) -> Progress:
    evaluations = list(pairing.evaluations.all())
    if not evaluations:
        return EMPTY, ""
    latest = evaluations[0]
    is_done = latest.state == FitEvaluation.State.DONE
    return (DONE if is_done else BEGUN), str(latest.get_state_display()).lower()


def _verdict(recorded: Recorded, pairing: Pairing) -> Progress:
    verdicts = pairing.verdicts.all()
    has_draft = pairing_draft(pairing.pk, "verdict") in recorded.drafts
    if has_draft:
        return BEGUN, "not signed"
    return (DONE, str(verdicts[0].get_word_display())) if verdicts else (EMPTY, "")
