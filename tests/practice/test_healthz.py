"""/healthz: every part the site stands on, asked without signing in."""

import json
from pathlib import Path

import pytest
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from pytest_django import Settings

pytestmark = pytest.mark.django_db


def ask() -> tuple[int, dict[str, str]]:
    response = Client().get("/healthz")
    return response.status_code, json.loads(response.content)


def test_healthz_is_well_without_signing_in() -> None:
    assert ask() == (
        200,
        {"status": "ok", "database": "ok", "migrations": "ok", "queue": "ok"},
    )


def test_healthz_fails_while_a_migration_is_missing() -> None:
    MigrationRecorder.Migration.objects.filter(app="practice").latest("pk").delete()
    status, parts = ask()
    assert (status, parts["status"], parts["migrations"]) == (503, "failing", "missing")


def test_healthz_fails_without_a_database(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise DatabaseError("no such host")

    monkeypatch.setattr(connection, "cursor", refuse)
    status, parts = ask()
    assert (status, parts["database"], parts["migrations"]) == (503, "not reachable", "unknown")
    assert "no such host" not in json.dumps(parts)


def test_healthz_fails_when_the_queue_folder_is_gone(settings: Settings, tmp_path: Path) -> None:
    settings.CELERY_TASK_ALWAYS_EAGER = False
    settings.QUEUE_DIR = tmp_path / "gone"
    status, parts = ask()
    assert (status, parts["queue"]) == (503, "not writable")


def test_healthz_fails_when_the_broker_does_not_answer(settings: Settings) -> None:
    from practice.celery import app

    settings.CELERY_TASK_ALWAYS_EAGER = False
    settings.BROKER_URL = "redis://127.0.0.1:1/0"  # nothing listens on port 1
    before = app.conf.broker_url
    app.conf.broker_url = settings.BROKER_URL
    try:
        status, parts = ask()
    finally:
        app.conf.broker_url = before
    assert (status, parts["queue"]) == (503, "not reachable")
