"""Background jobs: a row is claimed once, followed, and taken up again when its worker dies."""

import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from kombu.exceptions import OperationalError
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from horses import tasks
from horses.models import Job
from horses.services import jobs
from tests.practice.site import Site, kill_group

HERE = __name__
LONG_AGO = timedelta(hours=1)


def queued(**arguments: object) -> Job:
    return jobs.queue_job(kind="tried", arguments=arguments)


def claimed(**arguments: object) -> Job:
    job = jobs.claim(job_id=queued(**arguments).pk)
    assert job is not None
    return job


def make_silent(job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(heartbeat_at=timezone.now() - LONG_AGO)


# --- Services -----------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_job_is_claimed_once() -> None:
    job = queued()
    first, second = jobs.claim(job_id=job.pk), jobs.claim(job_id=job.pk)
    assert first is not None
    assert (first.state, first.attempts) == (Job.State.RUNNING, 1)
    assert second is None


@pytest.mark.django_db
def test_progress_is_shown_and_finishing_makes_it_whole() -> None:
    job = jobs.report_progress(job=claimed(), percent=40, step="Standing")
    assert (job.progress, job.step) == (40, "Standing")
    job = jobs.finish(job=job)
    assert (job.state, job.progress, job.is_over) == (Job.State.DONE, 100, True)
    assert job.finished_at is not None


@pytest.mark.django_db
def test_a_silent_job_is_queued_again_and_a_lively_one_is_left() -> None:
    silent, lively = claimed(), claimed()
    make_silent(silent)
    assert jobs.requeue_stale() == [silent.pk]
    silent.refresh_from_db()
    lively.refresh_from_db()
    assert (silent.state, lively.state) == (Job.State.QUEUED, Job.State.RUNNING)


@pytest.mark.django_db
def test_a_queued_job_whose_message_was_lost_is_sent_again_but_not_at_every_look() -> None:
    job = queued()
    assert jobs.requeue_stale() == []
    make_silent(job)
    assert jobs.requeue_stale() == [job.pk]
    assert jobs.requeue_stale() == []


@pytest.mark.django_db
def test_a_job_that_stops_three_times_fails_with_words() -> None:
    job = queued()
    for _ in range(jobs.MAX_ATTEMPTS):
        assert jobs.claim(job_id=job.pk) is not None
        make_silent(job)
        jobs.requeue_stale()
    job.refresh_from_db()
    assert (job.state, job.attempts, job.error) == (Job.State.FAILED, 3, jobs.GAVE_UP)
    assert jobs.claim(job_id=job.pk) is None


@pytest.mark.django_db
def test_a_worker_that_lost_its_job_can_change_nothing() -> None:
    lost = claimed()
    jobs.requeue_stale(silence=timedelta(0))
    assert jobs.claim(job_id=lost.pk) is not None
    with pytest.raises(jobs.JobTakenOver):
        jobs.report_progress(job=lost, percent=90)
    with pytest.raises(jobs.JobTakenOver):
        jobs.finish(job=lost)
    with pytest.raises(jobs.JobTakenOver):
        jobs.fail(job=lost, error="too late")
    assert Job.objects.get(pk=lost.pk).progress == 0


# --- The task -----------------------------------------------------------------------------------


def do_well(*, job: Job) -> None:
    jobs.report_progress(job=job, percent=60, step=job.arguments["step"])


def refuse(*, job: Job) -> None:
    raise ValidationError("Measure the girth first.")


def break_down(*, job: Job) -> None:
    raise RuntimeError("a row with a name in it")


def lose_the_job(*, job: Job) -> None:
    jobs.requeue_stale(silence=timedelta(0))
    jobs.report_progress(job=job, percent=10)


def run(settings: Settings, function: str, **arguments: object) -> Job:
    settings.JOB_KINDS = {"tried": f"{HERE}.{function}"}
    job = queued(**arguments)
    tasks.run_job(job.pk)
    job.refresh_from_db()
    return job


@pytest.mark.django_db
def test_the_task_runs_the_service_named_for_the_kind(settings: Settings) -> None:
    job = run(settings, "do_well", step="Bending")
    assert (job.state, job.error) == (Job.State.DONE, "")
    tasks.run_job(job.pk)
    job.refresh_from_db()
    assert job.attempts == 1, "a message that arrives twice runs the job once"


@pytest.mark.django_db
def test_what_cannot_be_done_is_said_in_the_services_words(settings: Settings) -> None:
    job = run(settings, "refuse")
    assert (job.state, job.error) == (Job.State.FAILED, "Measure the girth first.")


@pytest.mark.django_db
def test_what_broke_is_said_without_the_exceptions_words(settings: Settings) -> None:
    job = run(settings, "break_down")
    assert (job.state, job.error) == (Job.State.FAILED, tasks.BROKE)


@pytest.mark.django_db
def test_a_kind_nobody_knows_fails(settings: Settings) -> None:
    settings.JOB_KINDS = {}
    job = queued()
    tasks.run_job(job.pk)
    assert Job.objects.get(pk=job.pk).state == Job.State.FAILED


@pytest.mark.django_db
def test_a_worker_that_lost_its_job_leaves_it_alone(settings: Settings) -> None:
    assert run(settings, "lose_the_job").state == Job.State.QUEUED


@pytest.mark.django_db
def test_a_job_is_sent_when_its_row_is_there_and_not_before(
    settings: Settings, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    settings.JOB_KINDS = {"tried": f"{HERE}.do_well"}
    with django_capture_on_commit_callbacks(execute=True), transaction.atomic():
        job = queued(step="any")
        tasks.send_job(job)
        assert Job.objects.get(pk=job.pk).state == Job.State.QUEUED
    assert Job.objects.get(pk=job.pk).state == Job.State.DONE


@pytest.mark.django_db
def test_a_broker_that_is_down_loses_nothing(
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    def refuse_message(*_: object, **__: object) -> None:
        raise OperationalError("connection refused")

    monkeypatch.setattr(tasks.run_job, "apply_async", refuse_message)
    with django_capture_on_commit_callbacks(execute=True):
        job = queued()
        tasks.send_job(job)
    make_silent(job)
    assert jobs.requeue_stale() == [job.pk]


@pytest.mark.django_db
def test_stale_jobs_are_taken_up_and_run(settings: Settings) -> None:
    settings.JOB_KINDS = {"tried": f"{HERE}.do_well"}
    job = claimed(step="any")
    make_silent(job)
    tasks.take_up_stale_jobs()
    job.refresh_from_db()
    assert (job.state, job.attempts) == (Job.State.DONE, 2)


# --- A real worker on the queue folder ----------------------------------------------------------

QUEUE_ONE = """
import django
django.setup()
from horses.services.jobs import queue_job
from horses.tasks import send_job
send_job(queue_job(kind="wait_for_leave", arguments={"folder": %r}))
"""


def launch_worker(site: Site) -> "subprocess.Popen[bytes]":
    argv = (sys.executable, "-m", "celery", "--quiet", "-A", "practice.celery", "worker")
    return site.launch(*argv, "--concurrency", "1", "--loglevel", "warning")


def job_row(site: Site) -> tuple[str, int, int]:
    ((state, progress, attempts),) = site.rows("SELECT state, progress, attempts FROM horses_job")
    return state, progress, attempts


def test_a_worker_killed_in_the_middle_of_a_job_takes_it_up_again(
    site: Site, tmp_path: Path
) -> None:
    site.environment["DJANGO_SETTINGS_MODULE"] = "tests.practice.worker_settings"
    worker = launch_worker(site)
    site.launch(sys.executable, "-c", QUEUE_ONE % str(tmp_path)).wait()
    site.wait_until(
        lambda: job_row(site) == ("running", 50, 1), "the first worker at half the work"
    )

    kill_group(worker)
    assert job_row(site) == ("running", 50, 1)

    launch_worker(site)
    site.wait_until(
        lambda: job_row(site) == ("running", 50, 2), "the second worker at half the work"
    )
    (tmp_path / "leave").touch()
    site.wait_until(lambda: job_row(site) == ("done", 100, 2), "the end of the job")
    assert (tmp_path / "attempts").read_text() == "2\n"
