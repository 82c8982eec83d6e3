"""The commands that write invented practices: what they refuse, reuse and tell."""

from datetime import date, datetime, timedelta
from io import StringIO
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import transaction

from fitting.models import FitEvaluation
from horses.models import Horse
from practice.demo.calendar import ZONE
from practice.demo.people import LEAD
from practice.models import Practice, User, Visit
from tests.factories import make_client, make_horse

pytestmark = pytest.mark.django_db
COMMAND = "practice.management.commands.demo"
OPTIONS: dict[str, dict[str, Any]] = {"demo": {"no_serve": True}, "seed": {}}


def _refusal(*argv: Any, **options: Any) -> CommandError:
    with pytest.raises(CommandError) as refused:
        call_command(*argv, **options, stdout=StringIO())
    return refused.value


@pytest.mark.parametrize("command", ["demo", "seed"])
def test_database_with_real_clients_is_not_touched(command: str, settings: Any) -> None:
    settings.IS_DEMO = True
    make_client(name="A real client")
    error = _refusal(command, **OPTIONS[command])
    assert error.returncode == 2
    assert "real clients" in str(error)
    assert not Practice.objects.exists()


def test_demo_runs_only_in_its_own_place(settings: Any) -> None:
    settings.IS_DEMO = False
    assert _refusal("demo", no_serve=True).returncode == 2


# PostgreSQL empties no table with rows of the same transaction still unchecked.
@pytest.mark.django_db(transaction=True)
def test_fresh_throws_the_old_demo_away(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.IS_DEMO = True
    Practice.objects.create(is_demo=True)
    User.objects.create_user(LEAD)
    make_horse(barn_name="From last time")
    found: list[int] = []
    monkeypatch.setattr(
        f"{COMMAND}.load_practice", lambda **values: found.append(Horse.objects.count())
    )
    call_command("demo", no_serve=True, fresh=True, stdout=StringIO())
    assert found == [0]


def test_progress_is_shown_line_by_line_where_there_is_no_terminal(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.IS_DEMO = True

    def load(*, today: date, on_evaluation: Any) -> None:
        for number in range(1, 26):
            on_evaluation(number, 25)

    monkeypatch.setattr(f"{COMMAND}.load_practice", load)
    out = StringIO()
    call_command("demo", no_serve=True, stdout=out)
    told = [line for line in out.getvalue().splitlines() if line.startswith("Evaluating")]
    assert told == ["Evaluating 10 of 25", "Evaluating 20 of 25", "Evaluating 25 of 25"]


def _seeded() -> list[tuple[str, float | None]]:
    call_command("seed", horses=4, visits=6, evaluations=1, random_seed=3, stdout=StringIO())
    return list(Horse.objects.order_by("pk").values_list("barn_name", "height_mm"))


def test_seed_makes_the_size_asked_for_and_the_same_practice_again() -> None:
    with transaction.atomic():
        first = _seeded()
        assert Visit.objects.count() == 6
        assert FitEvaluation.objects.get().state == FitEvaluation.State.DONE
        assert Visit.objects.latest("starts_at").starts_at < datetime.now(
            ZoneInfo(ZONE)
        ) + timedelta(days=1)
        transaction.set_rollback(True)
    assert _seeded() == first
    assert len(first) == 4
