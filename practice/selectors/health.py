"""Whether the parts this site stands on answer. Says nothing about what is stored."""

from typing import Any

from celery import current_app
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from kombu.exceptions import OperationalError

PATIENCE_SECONDS = 3


def health() -> dict[str, str]:
    """Return the state of each part: "ok", or in a word or two what is wrong."""
    database = _database()
    return {
        "database": database,
        "migrations": _migrations() if database == "ok" else "unknown",
        "queue": _queue(),
    }


def _database() -> str:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return "not reachable"
    return "ok"


def _migrations() -> str:
    executor = MigrationExecutor(connection)
    return "missing" if executor.migration_plan(executor.loader.graph.leaf_nodes()) else "ok"


def _queue() -> str:
    if settings.CELERY_TASK_ALWAYS_EAGER:
        return "ok"
    if not settings.BROKER_URL:
        return _queue_folder()
    app: Any = current_app
    try:
        with app.connection_for_write(connect_timeout=PATIENCE_SECONDS) as broker:
            broker.ensure_connection(max_retries=1, timeout=PATIENCE_SECONDS)
    except (OperationalError, OSError):
        return "not reachable"
    return "ok"


def _queue_folder() -> str:
    probe = settings.QUEUE_DIR / "messages" / ".probe"
    try:
        probe.touch()
        probe.unlink(missing_ok=True)
    except OSError:
        return "not writable"
    return "ok"
