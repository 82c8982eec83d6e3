"""The supervisor: what runs beside what, and how all of it ends."""

import os
import signal
import socket
import sys
from pathlib import Path
from threading import Timer

import pytest
from pytest_django import Settings

from practice import processes
from practice.processes import Program, Supervisor, programs, serve

SLEEP = "import time; time.sleep(600)"
STUBBORN = f"import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); {SLEEP}"


def python(name: str, code: str, *, is_vital: bool) -> Program:
    return Program(name, (sys.executable, "-c", code), is_vital)


def supervisor(*kept: Program) -> tuple[Supervisor, list[str]]:
    said: list[str] = []
    return Supervisor(list(kept), said.append, dict(os.environ)), said


def nothing() -> None:
    """Do nothing at each look."""


def test_everything_ends_with_the_code_of_the_vital_program() -> None:
    web = python("web server", "raise SystemExit(7)", is_vital=True)
    worker = python("worker", SLEEP, is_vital=False)
    kept, _ = supervisor(web, worker)
    assert kept.run(nothing) == 7
    assert kept.running[worker].poll() is not None


def test_a_worker_that_ends_is_started_again_and_that_is_said(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(processes, "RESTART_PAUSE_SECONDS", 0.1)
    count = f"import pathlib; p = pathlib.Path({str(tmp_path / 'starts')!r}).open('a').write('x')"
    kept, said = supervisor(python("worker", count, is_vital=False))

    def stop_after_three() -> None:
        starts = tmp_path / "starts"
        if starts.exists() and len(starts.read_text()) >= 3:
            kept.stop.set()

    assert kept.run(stop_after_three) == 0
    assert said[:2] == ["The worker ended (exit code 0); starting it again."] * 2


def test_a_program_that_ignores_term_is_killed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "GRACE_SECONDS", 0.5)
    stubborn = python("worker", STUBBORN, is_vital=False)
    kept, _ = supervisor(stubborn)
    Timer(1.5, kept.stop.set).start()
    assert kept.run(nothing) == 0
    assert kept.running[stubborn].returncode == -signal.SIGKILL


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_and_term_stop_it(number: signal.Signals, monkeypatch: pytest.MonkeyPatch) -> None:
    web = python("web server", SLEEP, is_vital=True)
    monkeypatch.setattr(processes, "programs", lambda host, port: [web])
    before = signal.getsignal(number)
    Timer(1.0, os.kill, (os.getpid(), number)).start()
    assert serve(host="127.0.0.1", port=1, say=print) == 0
    assert signal.getsignal(number) == before


def test_a_port_that_is_taken_is_said_before_anything_starts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(processes, "programs", lambda host, port: pytest.fail("was started"))
    said: list[str] = []
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        assert serve(host="127.0.0.1", port=port, say=said.append) == 1
    assert said == [f"Something else already listens on port {port}. Choose another with --port."]


@pytest.mark.parametrize(
    ("broker", "in_request", "names"),
    [
        ("", False, ["web server", "worker"]),
        ("redis://localhost/0", False, ["web server"]),
        ("", True, ["web server"]),
    ],
)
def test_a_worker_runs_beside_the_web_server_only_without_a_broker(
    settings: Settings, broker: str, in_request: bool, names: list[str]
) -> None:
    settings.BROKER_URL = broker
    settings.CELERY_TASK_ALWAYS_EAGER = in_request
    assert [program.name for program in programs("127.0.0.1", 8000)] == names
