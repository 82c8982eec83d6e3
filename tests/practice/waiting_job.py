"""A job that is under way for as long as a test wants it to be."""

import time
from pathlib import Path

from horses.models import Job
from horses.services.jobs import report_progress


def wait_for_leave(*, job: Job) -> None:
    """Report half the work, wait for a file to appear, and write down which attempt got there."""
    folder = Path(job.arguments["folder"])
    report_progress(job=job, percent=50, step="Half way")
    while not (folder / "leave").exists():
        time.sleep(0.05)
    with (folder / "attempts").open("a") as done:
        done.write(f"{job.attempts}\n")
