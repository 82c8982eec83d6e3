"""The life of a background job. Every step may happen twice without harm.

A worker owns a job by the number of its attempt: once the job has been given to another worker,
whatever the first one still reports is refused.
"""

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from horses.models import Job

if TYPE_CHECKING:
    from practice.models import User

MAX_ATTEMPTS = 3
SILENCE = timedelta(minutes=5)
GAVE_UP = (
    "This was started three times and stopped each time before it was finished. Try it once more; "
    "if it stops again, whoever runs this install should look at the log of the worker."
)


class JobTakenOver(Exception):
    """The job is no longer this worker's: another one has it, or it is over."""


@transaction.atomic
def queue_job(*, kind: str, arguments: dict[str, Any], created_by: "User | None" = None) -> Job:
    """Write down work to be done. The caller sends it once this is committed."""
    job = Job(kind=kind, arguments=arguments, created_by=created_by, heartbeat_at=timezone.now())
    job.full_clean()
    job.save()
    return job


def claim(*, job_id: int) -> Job | None:
    """Take a queued job for this worker, or return None when it is someone else's or over."""
    now = timezone.now()
    taken = Job.objects.filter(pk=job_id, state=Job.State.QUEUED).update(
        state=Job.State.RUNNING,
        attempts=F("attempts") + 1,
        progress=0,
        step="",
        started_at=now,
        heartbeat_at=now,
        changed_at=now,
    )
    return Job.objects.get(pk=job_id) if taken else None


def _change_own(job: Job, **values: Any) -> Job:
    mine = Job.objects.filter(pk=job.pk, state=Job.State.RUNNING, attempts=job.attempts)
    if not mine.update(**values, changed_at=timezone.now()):
        raise JobTakenOver(f"Job {job.pk}, attempt {job.attempts}")
    job.refresh_from_db()
    return job


def report_progress(*, job: Job, percent: int, step: str = "") -> Job:
    """Show how far the work is; this is also the sign of life that keeps the job ours.

    Others see it once the surrounding transaction is committed. Raises JobTakenOver.
    """
    return _change_own(job, progress=percent, step=step, heartbeat_at=timezone.now())


def finish(*, job: Job) -> Job:
    """Mark a job as done. Raises JobTakenOver."""
    return _change_own(
        job, state=Job.State.DONE, progress=100, step="", error="", finished_at=timezone.now()
    )


def fail(*, job: Job, error: str) -> Job:
    """Mark a job as failed, with words for the person who asked. Raises JobTakenOver."""
    return _change_own(job, state=Job.State.FAILED, error=error, finished_at=timezone.now())


@transaction.atomic
def requeue_stale(*, silence: timedelta = SILENCE) -> list[int]:
    """Queue again what went silent; return the ids of all jobs that must be sent (again).

    Silent means: running without a sign of life (its worker died), or queued and never picked up
    (its message was lost). A job that used up its attempts fails.
    """
    now = timezone.now()
    silent = Job.objects.filter(heartbeat_at__lte=now - silence)
    running = silent.filter(state=Job.State.RUNNING)
    running.filter(attempts__gte=MAX_ATTEMPTS).update(
        state=Job.State.FAILED, error=GAVE_UP, finished_at=now, changed_at=now
    )
    to_send = list(
        silent.select_for_update()
        .filter(state__in=(Job.State.RUNNING, Job.State.QUEUED))
        .order_by("pk")
        .values_list("pk", flat=True)
    )
    Job.objects.filter(pk__in=to_send).update(
        state=Job.State.QUEUED, heartbeat_at=now, changed_at=now
    )
    return to_send
