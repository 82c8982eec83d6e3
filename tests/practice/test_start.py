"""`manage.py start`: a real practice, served with its worker, and kept apart from the demo."""

import os
import pty
import signal
import subprocess
import sys
from urllib.error import URLError
from urllib.request import urlopen

from tests.practice.site import ROOT, Site, free_port

ACCOUNT = {"FIRST_USER_NAME": "fitter", "FIRST_USER_PASSWORD": "felt-and-fleece-7"}


def start(site: Site, port: int) -> "subprocess.Popen[bytes]":
    return site.launch(sys.executable, "manage.py", "start", "--port", str(port))


def page(port: int, path: str) -> str:
    """Return the body of a page, or nothing while nobody answers."""
    try:
        with urlopen(f"http://127.0.0.1:{port}{path}", timeout=20) as response:
            return str(response.read().decode())
    except URLError:
        return ""


def children_named(parent: int, words: str) -> list[int]:
    """Return the processes directly below `parent` whose command line holds `words`."""
    listed = subprocess.run(
        ["ps", "-o", "pid=,args=", "--ppid", str(parent)],
        capture_output=True,
        text=True,
        check=False,
    )
    lines = [line.split(None, 1) for line in listed.stdout.splitlines()]
    return [int(pid) for pid, command in lines if words in command]


def test_start_serves_with_a_worker_that_is_replaced_and_stops_cleanly(site: Site) -> None:
    site.environment |= ACCOUNT
    port = free_port()
    started = start(site, port)
    site.wait_until(lambda: "Serving at" in site.log, "the address being printed")
    assert f"Serving at http://localhost:{port}." in site.log
    assert '"status": "ok"' in page(port, "/healthz")
    assert "csrfmiddlewaretoken" in page(port, "/sign-in/")
    assert site.rows("SELECT username, role FROM practice_user") == [("fitter", "lead")]

    (worker,) = site.wait_until(lambda: children_named(started.pid, "celery"), "a worker")
    os.kill(worker, signal.SIGKILL)
    site.wait_until(
        lambda: children_named(started.pid, "celery") not in ([], [worker]), "another worker"
    )
    assert "The worker ended (exit code -9); starting it again." in site.log

    started.send_signal(signal.SIGTERM)
    assert started.wait(timeout=60) == 0
    assert page(port, "/healthz") == ""
    everyone = subprocess.run(["ps", "-eo", "args="], capture_output=True, text=True, check=True)
    assert str(site.folder / "schedule") not in everyone.stdout, "the worker is gone too"


def test_start_refuses_the_demos_database(site: Site) -> None:
    made = "from practice.models import Practice; Practice.objects.create(is_demo=True)"
    assert site.run("shell", "-c", made).returncode == 0
    refused = site.run("start")
    assert refused.returncode == 1
    assert "belongs to the demo" in refused.stderr


def test_start_refuses_a_weak_first_password(site: Site) -> None:
    site.environment |= ACCOUNT | {"FIRST_USER_PASSWORD": "12345"}
    refused = site.run("start")
    assert refused.returncode == 1
    assert "FIRST_USER_PASSWORD: This password is too short" in refused.stderr
    assert site.rows("SELECT count(*) FROM practice_user") == [(0,)]


def test_add_lead_takes_the_password_from_a_file(site: Site) -> None:
    password = site.folder / "password"
    password.write_text("felt-and-fleece-7\n")
    site.environment |= {"FIRST_USER_NAME": "fitter", "FIRST_USER_PASSWORD_FILE": str(password)}
    added = site.run("add-lead")
    assert added.returncode == 0, added.stderr
    assert site.rows("SELECT username, role FROM practice_user") == [("fitter", "lead")]


def test_add_lead_without_anyone_to_ask_says_what_to_set(site: Site) -> None:
    refused = site.run("add-lead")
    assert refused.returncode == 1
    assert "FIRST_USER_NAME" in refused.stderr


def test_add_lead_asks_on_a_terminal_until_the_password_will_do(site: Site) -> None:
    dialogue = [
        ("sign in with: ", "fitter"), ("Password: ", "short"), ("once more: ", "short"),
        ("sign in with: ", "fitter"), ("Password: ", "felt-and-fleece-7"), ("once more: ", "felt"),
        ("sign in with: ", "fitter"), ("Password: ", "felt-and-fleece-7"),
        ("once more: ", "felt-and-fleece-7"),
    ]  # fmt: skip
    here, there = pty.openpty()
    asking = subprocess.Popen(
        (sys.executable, "manage.py", "add-lead"), cwd=ROOT, env=site.environment,
        stdin=there, stdout=there, stderr=there, start_new_session=True,
    )  # fmt: skip
    os.close(there)
    shown = everything = ""
    for prompt, answer in dialogue:
        while prompt not in shown:
            shown += os.read(here, 1024).decode()
        everything, shown = everything + shown, ""
        os.write(here, f"{answer}\n".encode())
    assert asking.wait(timeout=60) == 0
    os.close(here)
    assert "Password: This password is too short" in everything
    assert "The two passwords differ." in everything
    assert "felt-and-fleece-7" not in everything
    assert site.rows("SELECT username, role FROM practice_user") == [("fitter", "lead")]


def test_the_first_start_writes_a_secret_key_that_only_its_owner_can_read(site: Site) -> None:
    key = site.folder / "secret_key"
    key.unlink()
    site.environment["FIRST_USER_NAME"] = "x" * 200  # stops the start right after the database
    site.run("start")
    assert len(key.read_text().strip()) >= 32
    assert key.stat().st_mode & 0o077 == 0


def test_other_commands_ask_for_a_secret_key_instead_of_making_one(site: Site) -> None:
    (site.folder / "secret_key").unlink()
    refused = site.run("check")
    assert refused.returncode == 1
    assert "SECRET_KEY is not set" in refused.stderr
    assert not (site.folder / "secret_key").exists()
