"""docker-compose.yml: what can be said about it without an engine to run it.

CI also has `docker-compose config` read it, and runs each of its commands on the machine itself.
"""

from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).parents[2]
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text(encoding="utf-8"))
SERVICES: dict[str, Any] = COMPOSE["services"]
OURS = ("web", "worker", "scheduler")


def test_it_holds_the_five_services() -> None:
    assert set(SERVICES) == {*OURS, "database", "broker"}


@pytest.mark.parametrize("name", SERVICES)
def test_a_service_has_a_health_check_and_comes_back(name: str) -> None:
    assert SERVICES[name]["healthcheck"]["test"]
    assert SERVICES[name]["restart"] == "unless-stopped"


@pytest.mark.parametrize("name", SERVICES)
def test_no_secret_stands_in_the_file(name: str) -> None:
    for key, value in SERVICES[name].get("environment", {}).items():
        if "PASSWORD" in key or "SECRET" in key:
            assert str(value).startswith(("/run/secrets/", "${"))


@pytest.mark.parametrize("name", OURS)
def test_ours_share_one_image_and_its_settings(name: str) -> None:
    assert SERVICES[name]["image"] == "backledger"
    assert SERVICES[name]["environment"] == SERVICES["web"]["environment"]
    assert SERVICES[name]["secrets"] == ["secret_key", "db_password"]


def test_only_this_machine_reaches_the_web_server_and_nothing_else_is_published() -> None:
    assert SERVICES["web"]["ports"] == ["127.0.0.1:8000:8000"]
    assert [name for name in SERVICES if "ports" in SERVICES[name]] == ["web"]


def test_the_image_does_not_run_as_root() -> None:
    lines = (ROOT / "Dockerfile").read_text(encoding="utf-8").splitlines()
    users = [number for number, line in enumerate(lines) if line.startswith("USER ")]
    assert [lines[number] for number in users] == ["USER backledger"]
    assert not [line for line in lines[users[0] :] if line.startswith("RUN ")]
    assert any(line.startswith("HEALTHCHECK ") for line in lines)


@pytest.mark.parametrize("left_out", [".env", "var", "secrets", ".git"])
def test_the_image_takes_no_data_or_secret_with_it(left_out: str) -> None:
    assert left_out in (ROOT / ".dockerignore").read_text(encoding="utf-8").splitlines()
