"""What keeps invented horses out of a real practice's database."""

from django.core.management.base import CommandError
from django.db import connection

from practice.demo.people import LEAD
from practice.models import Client, Practice, User

REFUSED = (
    "This database holds real clients, so nothing was changed. The demo and invented practices "
    "need a database of their own: unset DATABASE_URL, or point DATA_DIR somewhere else."
)


def _has(table: str) -> bool:
    return table in connection.introspection.table_names()


def is_demo() -> bool:
    table = Practice._meta.db_table
    return _has(table) and Practice.objects.filter(is_demo=True).exists()


def holds_real_clients() -> bool:
    table = Client._meta.db_table
    return _has(table) and Client.objects.exists() and not is_demo()


def refuse_real_clients() -> None:
    """Stop with exit code 2 before anything is written, migrations included."""
    if holds_real_clients():
        raise CommandError(REFUSED, returncode=2)


def story_is_loaded() -> bool:
    return is_demo() and User.objects.filter(username=LEAD).exists()
