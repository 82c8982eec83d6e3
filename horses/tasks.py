"""Background tasks: an id comes in, a service does the work."""

from datetime import timedelta
from functools import partial
from typing import Any

import structlog
from celery import shared_task
from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.module_loading import import_string
from kombu.exceptions import OperationalError

from horses.models import Job
from horses.services import jobs

log = structlog.get_logger("backledger.jobs")
BROKE = "Something broke on our side. What you had saved is safe. The error has been logged."


@shared_task
def run_job(job_id: int) -> None:
    """Run a queued job. Does nothing when it is already taken or over."""
    job = jobs.claim(job_id=job_id)
    if job is None:
        return
    try:
        _run_claimed(job)
    except jobs.JobTakenOver:
        log.warning("job_taken_over", job=job_id, attempt=job.attempts)


def _run_claimed(job: Job) -> None:
    try:
        import_string(settings.JOB_KINDS[job.kind])(job=job)
    except jobs.JobTakenOver:
        raise
    except ValidationError as error:
        jobs.fail(job=job, error=" ".join(error.messages))
    except Exception:
        log.exception("job_broke", job=job.pk, kind=job.kind)
        jobs.fail(job=job, error=BROKE)
    else:
        jobs.finish(job=job)


@shared_task
def take_up_stale_jobs(silent_seconds: float | None = None) -> None:
    """Send again every job whose worker died or whose message was lost."""
    silence = jobs.SILENCE if silent_seconds is None else timedelta(seconds=silent_seconds)
    for job_id in jobs.requeue_stale(silence=silence):
        _send(job_id)


def send_job(job: Job) -> None:
    """Hand a job to the workers once the current transaction is committed. For views."""
    transaction.on_commit(partial(_send, job.pk))


def _send(job_id: int) -> None:
    task: Any = run_job
    try:
        task.apply_async((job_id,), retry=False)
    except OperationalError:
        # The row is the truth: it stays queued and is sent again when it has been silent.
        log.warning("job_not_sent", job=job_id)
