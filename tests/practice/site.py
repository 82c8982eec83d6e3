"""A site of its own in a folder of its own, run as a person would run it: by manage.py."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
PATIENCE_SECONDS = 90  # generous: two busy cores


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Site:
    """An install in a folder, with an environment in which nothing else is set."""

    def __init__(self, folder: Path, **settings: str) -> None:
        self.folder = folder
        inherited = {
            name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ
        }
        self.environment = inherited | {"DATA_DIR": str(folder)} | settings
        self.started: list[subprocess.Popen[bytes]] = []

    @property
    def database(self) -> Path:
        return self.folder / "backledger.sqlite3"

    @property
    def log(self) -> str:
        path = self.folder / "log"
        return path.read_text() if path.exists() else ""

    def run(self, *argv: str, **options: Any) -> "subprocess.CompletedProcess[str]":
        """Run a management command to its end."""
        command = (sys.executable, "manage.py", *argv)
        return subprocess.run(
            command, cwd=ROOT, env=self.environment, stdin=subprocess.DEVNULL,
            capture_output=True, text=True, check=False, **options,
        )  # fmt: skip

    def launch(self, *argv: str) -> "subprocess.Popen[bytes]":
        """Start a program in a process group of its own; its output goes to the log."""
        with (self.folder / "log").open("ab") as log:
            process = subprocess.Popen(
                argv, cwd=ROOT, env=self.environment, stdin=subprocess.DEVNULL,
                stdout=log, stderr=log, start_new_session=True,
            )  # fmt: skip
        self.started.append(process)
        return process

    def wait_until(self, holds: Callable[[], Any], what: str) -> Any:
        """Return the first true answer of `holds`; fail when none comes, with the log's end."""
        deadline = time.monotonic() + PATIENCE_SECONDS
        while time.monotonic() < deadline:
            answer = holds()
            if answer:
                return answer
            time.sleep(0.1)
        raise AssertionError(f"In vain for {PATIENCE_SECONDS} s: {what}. Log: {self.log[-3000:]}")

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        connection = sqlite3.connect(self.database, timeout=20)
        try:
            return connection.execute(query).fetchall()
        finally:
            connection.close()

    def kill_everything(self) -> None:
        for process in self.started:
            if process.poll() is None:
                kill_group(process)


def kill_group(process: "subprocess.Popen[bytes]") -> None:
    """End a program and its children at once, as a power cut would."""
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()
