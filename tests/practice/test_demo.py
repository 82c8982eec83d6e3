"""The demo as a whole: loaded once, with every fit computed by the engine."""

from collections.abc import Iterator
from datetime import date, datetime
from io import StringIO
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command
from django.db import transaction
from django.test import Client

from fitting.models import FitEvaluation, Pairing, Verdict
from horses.models import BackMeasurement, BackScan, Horse, Ride
from horses.recovery import Outcome, recovery_result
from horses.selectors.seasons import rides_with_checks
from practice.demo import case_c
from practice.demo.calendar import ZONE
from practice.demo.loading import Loaded, load_practice, planned_evaluations
from practice.demo.people import CLIENTS, LEAD, PASSWORD, PLACES
from practice.models import User, Visit
from practice.selectors.alerts import alerts_of, horses_in_care
from practice.selectors.today import due_horses, sore_checks

COMMAND = "practice.management.commands.demo"


def today() -> date:
    return datetime.now(ZoneInfo(ZONE)).date()


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker: Any) -> Iterator[tuple[Loaded, list[int]]]:
    """Load the demo once for all tests here, and take it back at the end."""
    seen: list[int] = []
    with django_db_blocker.unblock(), transaction.atomic():
        yield load_practice(today=today(), on_evaluation=lambda done, of: seen.append(done)), seen
        transaction.set_rollback(True)


pytestmark = pytest.mark.django_db


def test_every_planned_fit_is_computed_and_told_of(demo: tuple[Loaded, list[int]]) -> None:
    total = planned_evaluations()
    assert demo[1] == list(range(1, total + 1))
    failures = FitEvaluation.objects.exclude(state=FitEvaluation.State.DONE)
    assert not list(failures.values_list("failure", flat=True))
    assert FitEvaluation.objects.count() == total


def _measures(horse: str, saddle: str) -> dict[str, float]:
    found = FitEvaluation.objects.filter(
        pairing__horse__barn_name=horse, pairing__saddle__tag=saddle
    )
    measures: dict[str, float] = found.order_by("evaluated_on", "pk")[0].measures
    return measures


def test_flat_tree_bridges_on_the_dipped_back_and_its_replacement_does_not(
    demo: tuple[Loaded, list[int]],
) -> None:
    """Common practice, no source: a flat tree on a dipped back loads both ends, not the middle."""
    flat, good = (_measures("Corporal Thistle", tag) for tag in ("SD-01", "SD-02"))
    even = 1 / 3
    assert flat["standing.share.middle"] < 0.3 * even
    assert good["standing.share.middle"] > 3 * flat["standing.share.middle"]
    assert good["standing.share.middle"] > 0.5 * even


def test_the_uneven_horse_carries_less_on_its_smaller_side(
    demo: tuple[Loaded, list[int]],
) -> None:
    uneven, even = (_measures(name, "SD-11") for name in ("Ledger", "Anvil"))

    def lopsided(measures: dict[str, float]) -> float:
        return abs(measures["standing.share.left"] - measures["standing.share.right"])

    assert lopsided(uneven) > 5 * lopsided(even)


def _outcomes(name: str) -> list[Outcome]:
    rides: list[Ride] = list(rides_with_checks(Horse.objects.get(barn_name=name)))
    return [recovery_result(ride).outcome for ride in reversed(rides)]


def test_long_rides_come_out_as_the_story_says(demo: tuple[Loaded, list[int]]) -> None:
    fail, slow, passed = Outcome.FAIL, Outcome.SLOW, Outcome.PASS
    assert _outcomes("Corporal Thistle") == [fail, passed, passed, passed]
    assert _outcomes("Cinderpath") == [slow, passed]
    assert _outcomes("Anvil") == _outcomes("Bramble Ox") == [passed]


def test_every_visit_of_the_story_is_recorded_and_none_clashes(
    demo: tuple[Loaded, list[int]],
) -> None:
    visits = list(Visit.objects.filter(state="recorded").order_by("starts_at"))
    assert len(visits) == len(demo[0].visits) == 25
    for one, other in pairwise(visits):
        assert one.ends_at <= other.starts_at
    assert all(visit.ends_at < datetime.now(ZoneInfo(ZONE)) for visit in visits)


def test_each_measuring_holds_both_sides_twice_and_three_lines(
    demo: tuple[Loaded, list[int]],
) -> None:
    traced = BackMeasurement.objects.filter(visit__isnull=False)
    for measurement in traced.prefetch_related("sections", "lines"):
        assert len(measurement.sections.all()) == 20
        assert {line.line for line in measurement.lines.all()} == {
            "midline", "left_bar", "right_bar",
        }  # fmt: skip


def test_one_horse_of_each_case_was_scanned_beside_its_tracing(
    demo: tuple[Loaded, list[int]],
) -> None:
    scans = BackScan.objects.select_related("result__horse").order_by("pk")
    assert [scan.result.horse.barn_name for scan in scans] == [
        "Corporal Thistle", "Pennywhistle Fern", "Ledger",
    ]  # fmt: skip
    for scan in scans:
        assert scan.result.method == "scan"
        assert all(check["agrees"] for check in scan.account["scale"])
    assert scans[0].account["holes"]
    assert scans[2].account["left_less_right_mm"]["S1"] > 3  # the uneven horse stays uneven


def test_what_was_not_ridden_was_not_tested(demo: tuple[Loaded, list[int]]) -> None:
    needle = Horse.objects.get(barn_name="Needle")
    last = needle.soreness_checks.first()
    assert last is not None
    assert {row.score for row in last.scores.all()} == {None}


def test_verdict_table_of_the_string_is_on_record(demo: tuple[Loaded, list[int]]) -> None:
    for key, saddles in case_c.MATRIX.items():
        for tag, springs in saddles.items():
            pairing = Pairing.objects.get(horse__barn_name=case_c.HORSES[key].name, saddle__tag=tag)
            for year, (word, hours, _) in springs.items():
                visit = demo[0].visits[f"spring {year}"]
                verdict = Verdict.objects.get(pairing=pairing, visit=visit)
                assert (verdict.word, verdict.hours_limit) == (word, hours)


def test_today_has_visits_something_overdue_and_a_back_to_worry_about(
    demo: tuple[Loaded, list[int]],
) -> None:
    booked = Visit.objects.filter(state="booked")
    days = {(visit.starts_local.date() - today()).days for visit in booked}
    assert 0 in days
    assert any(0 < day <= 7 for day in days)
    assert any(day > 7 for day in days)
    assert {due.horse.barn_name for due in due_horses(today())} == {"Cinderpath", "Ledger"}
    found = {row.horse.barn_name: row.alerts for row in alerts_of(horses_in_care(), today())}
    assert [alert.code for alert in found["Anvil"]] == ["shims"]
    assert [check.horse.barn_name for check in sore_checks()] == ["Bramble Ox"]


def test_young_horse_is_as_old_as_in_the_story(demo: tuple[Loaded, list[int]]) -> None:
    horse = Horse.objects.get(barn_name="Pennywhistle Fern")
    visit = demo[0].visits["B1"]
    assert horse.age_years_on(visit.starts_local.date()) == pytest.approx(3.05, abs=0.01)


def test_shared_report_opens_signed_out_without_addresses_or_weights(
    demo: tuple[Loaded, list[int]],
) -> None:
    page = Client().get(f"/r/{demo[0].share.token}/")
    assert page.status_code == 200
    html = page.content.decode()
    assert "Corporal Thistle" in html
    private = [values["address"] for values in (*CLIENTS.values(), *PLACES.values())]
    private += ["180 lb", "81.6 kg", "555 0111"]
    assert not [words for words in private if words in html]


def test_lead_of_the_demo_can_sign_in_with_the_password_shown(
    demo: tuple[Loaded, list[int]], settings: Any
) -> None:
    assert User.objects.get(username=LEAD).check_password(PASSWORD)


def test_second_run_uses_the_demo_as_it_is(
    demo: tuple[Loaded, list[int]], settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.IS_DEMO = True
    monkeypatch.setattr(f"{COMMAND}.load_practice", _must_not_run)
    out = StringIO()
    call_command("demo", no_serve=True, stdout=out)
    for words in ("as it is", LEAD, PASSWORD, demo[0].share.token):
        assert words in out.getvalue()


def _must_not_run(**values: Any) -> None:
    raise AssertionError("The demo was loaded again.")
