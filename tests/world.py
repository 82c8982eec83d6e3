"""A practice in which everything exists, and that can grow: for tests over all pages at once."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.utils import timezone

from fitting.models import FitEvaluation, HandCheck, Pairing, SafetyCheck, Verdict
from fitting.services.evaluations import evaluate_now, start_evaluation
from horses.models import BackMeasurement, Horse, Job, RepeatabilityStudy, Ride, SkinMark
from practice.models import (
    Client,
    Consent,
    HorseRole,
    Place,
    RecoveryLink,
    ShareLink,
    User,
    Visit,
    VisitHorse,
)
from practice.report.content import build_content
from practice.selectors.reports import records_for_report, visit_horse_or_404
from tests.factories import (
    make_client,
    make_horse,
    make_measurement,
    make_pad,
    make_pairing,
    make_place,
    make_practice,
    make_rider,
    make_saddle,
    make_soreness_check,
    make_user,
    make_visit,
)
from tests.horses.ready_scan import make_scan
from tests.horses.ready_tracing import make_tracing

START = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
MOMENTS = ("before", "after", "next_day", "second_day")


@dataclass
class World:
    """One horse with a full visit; `grow` adds more of everything around it."""

    lead: User
    owner: Client
    place: Place
    horse: Horse
    visit: Visit
    measurement: BackMeasurement
    pairing: Pairing
    evaluation: FitEvaluation
    rows: dict[str, Any] = field(default_factory=dict)
    size: int = 1

    def grow(self, count: int) -> None:
        for _ in range(count):
            self.size += 1
            self._one_more()

    def _one_more(self) -> None:
        """Add a client, place and horse; and for our horse a visit, a saddle and a ride."""
        number = self.size
        owner = make_client(name=f"Client {number}")
        horse = make_horse(owner, barn_name=f"Horse {number}", place=make_place(name=f"P{number}"))
        HorseRole.objects.create(horse=self.horse, client=owner, role="trainer")
        Consent.objects.create(
            client=self.owner, subject="photos", is_given=True, given_on=START.date()
        )
        make_user("helper")
        make_rider(client=self.owner, name=f"Rider {number}")
        others = make_visit(horses=[horse], client=owner, place=horse.place, starts_at=self.when)
        _record(others, horse, make_pairing(horse), self.lead, self.evaluation)
        for visit in (self.visit, _today(self.owner, number)):
            VisitHorse.objects.create(visit=visit, horse=horse)
        pairing = make_pairing(self.horse)
        again = make_visit(
            horses=[self.horse], client=self.owner, place=self.place, starts_at=self.when
        )
        _record(again, self.horse, pairing, self.lead, self.evaluation)
        _sign(self.visit, pairing, self.lead)
        _copy(self.evaluation, pairing=pairing, visit=self.visit)
        _copy(self.evaluation, pairing=self.pairing, visit=again)
        _ride(self.horse, pairing, self.when)
        make_scan(self.measurement)
        SkinMark.objects.create(horse=self.horse, kind="scar", side="L", first_seen_on=START.date())
        make_tracing(self.measurement, trace=2)
        share(self.visit, self.horse, self.lead)

    @property
    def when(self) -> datetime:
        return START + timedelta(days=7 * self.size)


def make_world() -> World:
    make_practice()
    lead, owner, place = make_user("lead"), make_client(), make_place()
    horse = make_horse(owner, place=place)
    visit = make_visit(horses=[horse], client=owner, place=place, starts_at=START, fitter=lead)
    rider = make_rider(client=owner)
    pairing = make_pairing(horse, rider=rider, pad=make_pad(), saddle=make_saddle(owner=owner))
    measurement = make_measurement(horse, visit=visit, measured_on=START.date())
    started = start_evaluation(pairing=pairing, measurement=measurement, visit=visit)
    evaluation = evaluate_now(evaluation=started)
    assert evaluation.state == FitEvaluation.State.DONE, evaluation.failure
    _checks(visit, horse, pairing, lead)
    _ride(horse, pairing, START)
    world = World(lead, owner, place, horse, visit, measurement, pairing, evaluation)
    world.rows = {
        "rider": rider,
        "role": HorseRole.objects.get(horse=horse),
        "member": make_user("helper"),
        "other_evaluation": _copy(evaluation, pairing=pairing, visit=None),
        "soreness": horse.soreness_checks.filter(visit=visit).get(),
        "tracing": make_tracing(measurement),
        "job": Job.objects.create(kind="evaluate_fit", arguments={}, heartbeat_at=timezone.now()),
        "ride": horse.rides.get(),
        "study": RepeatabilityStudy.objects.create(measured_on=START.date()),
        "mark": SkinMark.objects.create(
            horse=horse, kind="gall", side="L", site="BS", first_seen_on=START.date()
        ),
        "recovery_link": RecoveryLink.objects.create(
            ride=Ride.objects.create(horse=horse, ended_at=timezone.now(), hours=6),
            moment="next_day",
            opens_at=timezone.now() - timedelta(hours=1),
            expires_at=timezone.now() + timedelta(hours=30),
        ),
        "link": share(visit, horse, lead),
        "scan": make_scan(measurement),
        "booked": make_visit(
            client=owner, place=place, starts_at=datetime.now(UTC) + timedelta(days=30)
        ),
    }
    return world


def _record(
    visit: Visit, horse: Horse, pairing: Pairing, lead: User, evaluation: FitEvaluation
) -> None:
    make_measurement(horse, visit=visit, measured_on=visit.starts_at.date())
    _checks(visit, horse, pairing, lead)
    _copy(evaluation, pairing=pairing, visit=visit)


def _checks(visit: Visit, horse: Horse, pairing: Pairing, lead: User) -> None:
    make_soreness_check(
        horse, {("BS", "L"): 2, ("LO", "R"): None}, visit=visit, checked_at=visit.starts_at
    )
    HandCheck.objects.create(
        pairing=pairing, visit=visit, phase="bare", code="gap", outcome="good", left_mm=2
    )
    SafetyCheck.objects.create(
        saddle=pairing.saddle,
        visit=visit,
        checked_on=visit.starts_at.date(),
        items={"tree": "ok"},
        result="safe",
    )
    _sign(visit, pairing, lead)


def _sign(visit: Visit, pairing: Pairing, lead: User) -> None:
    Verdict.objects.create(
        pairing=pairing,
        visit=visit,
        word="carry_on",
        confidence="measured",
        next_check_on=date(2026, 2, 1),
        expires_on=date(2026, 3, 1),
        signed_by=lead,
        signed_at=visit.starts_at,
    )


def _copy(evaluation: FitEvaluation, **values: Any) -> FitEvaluation:
    """Store a computed result once more: as many rows as wanted for one computation."""
    names = ("measurement", "evaluated_on", "state", "engine_version", "inputs", "result")
    same = {name: getattr(evaluation, name) for name in (*names, "measures")}
    return FitEvaluation.objects.create(**{**same, **values})


def _ride(horse: Horse, pairing: Pairing, when: datetime) -> None:
    ride = Ride.objects.create(horse=horse, pairing=pairing, ended_at=when, hours=12)
    for days, moment in enumerate(MOMENTS):
        make_soreness_check(
            horse, ride=ride, moment=moment, checked_at=when + timedelta(days=days - 1)
        )


def _today(owner: Client, number: int) -> Visit:
    """Book a visit for today, so that the day's page grows too."""
    starts = timezone.now().replace(hour=6, minute=0) + timedelta(minutes=15 * number)
    return make_visit(client=owner, starts_at=starts, minutes=15)


def share(visit: Visit, horse: Horse, lead: User) -> ShareLink:
    records = records_for_report(visit_horse_or_404(visit.pk, horse.pk))
    return ShareLink.objects.create(
        visit_horse=records.visit_horse,
        content=build_content(records).to_dict(),
        expires_at=timezone.now() + timedelta(days=30),
        created_by=lead,
    )
