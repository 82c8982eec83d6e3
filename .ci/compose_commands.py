"""Run every command of docker-compose.yml on this machine, without an engine for containers.

usage: compose_commands.py CONFIG DATABASE_URL BROKER_URL

CONFIG is what `docker-compose config` printed. Hosts, paths of secrets, the data folder and the web
server's port are replaced by what exists here; the commands themselves are taken as they stand.
The database and broker services are those of this machine, so only their health checks are run.
"""

import os
import re
import shlex
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from urllib.parse import urlsplit

import yaml

ROOT = Path(__file__).resolve().parents[1]
OURS = ("web", "worker", "scheduler")
PATIENCE_SECONDS = 120


def say(words: str) -> None:
    sys.stdout.write(f"compose: {words}\n")
    sys.stdout.flush()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Here:
    """What stands in for the containers on this machine."""

    def __init__(self, folder: Path, database_url: str, broker_url: str) -> None:
        database = urlsplit(database_url)
        self.port = str(free_port())
        self.database, self.broker = database, urlsplit(broker_url)
        self.replaced = {
            "postgres://backledger@database:5432/backledger": database._replace(
                netloc=f"{database.username}@{database.hostname}:{database.port or 5432}"
            ).geturl(),
            "redis://broker:6379/0": broker_url,
            "/run/secrets": str(folder),
            "/tmp": str(folder),
            "127.0.0.1:8000": f"127.0.0.1:{self.port}",
            "localhost:8000": f"localhost:{self.port}",
        }
        (folder / "secret_key").write_text("only-for-this-run-" + "z" * 32)
        (folder / "db_password").write_text(database.password or "")
        self.folder = folder

    def translate(self, text: str) -> str:
        any_of_theirs = "|".join(map(re.escape, self.replaced))
        text = re.sub(any_of_theirs, lambda found: self.replaced[found[0]], text)
        return self.port if text == "8000" else text

    def environment(self, service: dict) -> dict[str, str]:
        inherited = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
        inherited["PATH"] = f"{Path(sys.executable).parent}:{inherited['PATH']}"
        own = {key: self.translate(str(value)) for key, value in service["environment"].items()}
        return inherited | own | {"DATA_DIR": str(self.folder / "data")}

    def argv(self, words: list[str]) -> list[str]:
        return [self.translate(word) for word in words]

    def health_command(self, service: dict) -> list[str]:
        kind, *words = service["healthcheck"]["test"]
        if kind == "CMD-SHELL":
            return ["sh", "-c", self.translate(words[0].replace("$$", "$"))]
        return self.argv(words)


def is_healthy(command: list[str], environment: dict[str, str]) -> bool:
    done = subprocess.run(
        command, cwd=ROOT, env=environment, stdin=subprocess.DEVNULL,
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.returncode == 0


def wait_until_healthy(
    here: Here, name: str, service: dict, environment: dict[str, str], process: subprocess.Popen
) -> None:
    command = here.health_command(service)
    deadline = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < deadline:
        if process.poll() is not None:
            raise SystemExit(f"{name} ended by itself with code {process.returncode}")
        if is_healthy(command, environment):
            say(f"{name} is healthy: {shlex.join(command)}")
            return
        time.sleep(1)
    raise SystemExit(f"{name} did not become healthy: {shlex.join(command)}")


def run_ours(here: Here, services: dict) -> None:
    """Start web, worker and scheduler in order, wait for each one's health, stop them by TERM."""
    running: dict[str, subprocess.Popen] = {}
    try:
        for name in OURS:
            environment = here.environment(services[name])
            command = here.argv(services[name]["command"])
            say(f"{name}: {shlex.join(command)}")
            running[name] = subprocess.Popen(
                command, cwd=ROOT, env=environment, stdin=subprocess.DEVNULL, start_new_session=True
            )
            wait_until_healthy(here, name, services[name], environment, running[name])
        for name, process in reversed(running.items()):
            process.terminate()
            code = process.wait(60)
            say(f"{name} stopped by TERM with code {code}")
            if code != 0:
                raise SystemExit(f"{name} did not stop cleanly")
    finally:
        for process in running.values():
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
    worker = services["worker"]
    if is_healthy(here.health_command(worker), here.environment(worker)):
        raise SystemExit("the worker's health check passes without a worker")


def check_services(here: Here, services: dict) -> None:
    """Run the health checks of database and broker against the ones of this machine."""
    environment = {
        **os.environ,
        "PGHOST": here.database.hostname or "",
        "PGPORT": str(here.database.port or 5432),
    }
    checks = {
        "database": here.health_command(services["database"]),
        "broker": here.health_command(services["broker"]),
    }
    checks["broker"][1:1] = ["-p", str(here.broker.port)]
    for name, command in checks.items():
        if not is_healthy(command, environment):
            raise SystemExit(f"{name}: {shlex.join(command)} failed")
        say(f"{name} is healthy: {shlex.join(command)}")


def main() -> None:
    config, database_url, broker_url = sys.argv[1:]
    services = yaml.safe_load(Path(config).read_text(encoding="utf-8"))["services"]
    with tempfile.TemporaryDirectory() as folder:
        here = Here(Path(folder), database_url, broker_url)
        check_services(here, services)
        run_ours(here, services)


main()
