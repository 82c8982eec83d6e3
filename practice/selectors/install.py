"""What this install is: a demo or a real practice, and whether somebody can sign in."""

from django.conf import settings
from django.db import connection

from practice.models import Practice, User


def is_demo_database() -> bool:
    """Return whether this database was made by the demo; an empty one was not."""
    if settings.IS_DEMO:
        return True
    has_table = Practice._meta.db_table in connection.introspection.table_names()
    return has_table and Practice.objects.filter(is_demo=True).exists()


def has_lead() -> bool:
    return User.objects.filter(role=User.Role.LEAD, is_active=True).exists()
