"""The web server and its worker side by side: a small supervisor for one machine.

A worker that dies is started again; when the web server ends, everything ends. With a broker the
workers are run by whoever runs the broker, and only the web server is started here.
"""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Event
from types import FrameType

from django.conf import settings

from practice.env import env_text

LOOK_AGAIN_SECONDS = 0.2
RESTART_PAUSE_SECONDS = 2.0
GRACE_SECONDS = 20.0  # for a worker to finish what it holds; killed jobs are taken up again
WEB_PROCESSES = 2
WEB_THREADS = 4
WORKER_PROCESSES = 2


@dataclass(frozen=True)
class Program:
    """A command that is kept running; without a vital one everything stops."""

    name: str
    argv: tuple[str, ...]
    is_vital: bool


def web_server(host: str, port: int) -> Program:
    address = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    options = ("--bind", address, "--workers", str(WEB_PROCESSES), "--threads", str(WEB_THREADS))
    argv = (sys.executable, "-m", "gunicorn", "practice.wsgi", *options, "--no-control-socket")
    return Program("web server", (*argv, "--log-level", "warning"), is_vital=True)


def worker() -> Program:
    """Return the one worker of an install without a broker; it also keeps the schedule."""
    schedule = str(settings.DATA_DIR / "schedule")
    options = ("--beat", "--schedule", schedule, "--concurrency", str(WORKER_PROCESSES))
    argv = (sys.executable, "-m", "celery", "--quiet", "-A", "practice.celery", "worker")
    return Program("worker", (*argv, *options, "--loglevel", "warning"), is_vital=False)


def programs(host: str, port: int) -> list[Program]:
    own_worker = not settings.BROKER_URL and not settings.CELERY_TASK_ALWAYS_EAGER
    return [web_server(host, port), *([worker()] if own_worker else [])]


class Supervisor:
    """Keeps programs running until one that is vital ends or `stop` is set."""

    def __init__(
        self, kept: list[Program], say: Callable[[str], None], environment: dict[str, str]
    ) -> None:
        self.kept = kept
        self.say = say
        self.environment = environment
        self.stop = Event()
        self.running: dict[Program, subprocess.Popen[bytes]] = {}
        self.may_start_at = dict.fromkeys(kept, 0.0)

    def start(self, program: Program) -> None:
        # A session of its own: Ctrl-C reaches us alone, and we stop each program in order.
        self.running[program] = subprocess.Popen(
            program.argv, cwd=settings.BASE_DIR, env=self.environment, start_new_session=True
        )
        self.may_start_at[program] = time.monotonic() + RESTART_PAUSE_SECONDS

    def look(self) -> int | None:
        """Start what is missing; return the exit code of a vital program that ended."""
        for program in self.kept:
            process = self.running.get(program)
            code = process.poll() if process else None
            if process and code is None:
                continue
            if process and program.is_vital:
                return code
            if time.monotonic() >= self.may_start_at[program]:
                self._replace(program, process, code)
        return None

    def _replace(
        self, program: Program, dead: "subprocess.Popen[bytes] | None", code: int | None
    ) -> None:
        if dead:
            _kill_group(dead)  # children that outlived it would do its jobs twice
            self.say(f"The {program.name} ended (exit code {code}); starting it again.")
        self.start(program)

    def run(self, on_look: Callable[[], None]) -> int:
        """Keep going until the end; return the exit code."""
        code = None
        try:
            while code is None and not self.stop.is_set():
                code = self.look()
                on_look()
                self.stop.wait(LOOK_AGAIN_SECONDS)
        finally:
            self.stop_all()
        return code or 0

    def stop_all(self) -> None:
        """Ask every program to end, the web server first, and insist when one does not."""
        for process in self.running.values():
            if process.poll() is None:
                process.terminate()
        deadline = time.monotonic() + GRACE_SECONDS
        for process in self.running.values():
            try:
                process.wait(max(0.0, deadline - time.monotonic()))
            except subprocess.TimeoutExpired:
                _kill_group(process)
                process.wait()


def _kill_group(process: "subprocess.Popen[bytes]") -> None:
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except (ProcessLookupError, PermissionError):
        return


@contextmanager
def _stopped_by_signals(stop: Event) -> Iterator[None]:
    def ask_to_stop(number: int, frame: FrameType | None) -> None:
        stop.set()

    asked = (signal.SIGINT, signal.SIGTERM)
    before = {number: signal.signal(number, ask_to_stop) for number in asked}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def answers(host: str, port: int) -> bool:
    """Return whether something listens at an address."""
    try:
        socket.create_connection((host, port), timeout=1).close()
    except OSError:
        return False
    return True


def own_address(host: str) -> str:
    """Return an address of this machine that reaches a server bound to `host`."""
    return {"0.0.0.0": "127.0.0.1", "::": "::1", "": "127.0.0.1"}.get(host, host)


def serve(
    *,
    host: str,
    port: int,
    say: Callable[[str], None],
    on_ready: Callable[[str], None] = lambda site_url: None,
) -> int:
    """Serve the site until Ctrl-C or TERM; return the exit code.

    `on_ready` is called once, with the site's address, when the web server accepts connections.
    """
    if answers(own_address(host), port):
        say(f"Something else already listens on port {port}. Choose another with --port.")
        return 1
    site_url = env_text("SITE_URL", f"http://localhost:{port}")
    waiting = [on_ready]

    def announce_once() -> None:
        if waiting and answers(own_address(host), port):
            waiting.pop()(site_url)

    supervisor = Supervisor(programs(host, port), say, {**os.environ, "SITE_URL": site_url})
    with _stopped_by_signals(supervisor.stop):
        return supervisor.run(announce_once)
