"""The Celery app: `celery -A practice.celery worker`."""

import os
from typing import Any

from celery import Celery
from celery.signals import setup_logging, worker_ready

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "practice.settings")
app = Celery("backledger")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@setup_logging.connect
def keep_the_sites_logging(**_: Any) -> None:
    """Celery leaves logging alone when this signal has a receiver: one format, in settings."""


@worker_ready.connect
def take_up_what_was_left(**_: Any) -> None:
    """Send again what a killed worker left behind.

    Without a broker this is the only worker, so whatever is marked as running is not. With one,
    other workers may be busy, and only jobs silent for long are taken from them.
    """
    only_worker = not app.conf.broker_url or app.conf.broker_url.startswith("filesystem")
    app.send_task("horses.tasks.take_up_stale_jobs", args=[0] if only_worker else [])
