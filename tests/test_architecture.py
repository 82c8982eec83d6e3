"""The dependency rules hold, and the engine stands on numbers alone."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LIST_MODULES = "import fitting.engine, json, sys; print(json.dumps(sorted(sys.modules)))"
NOT_BENEATH_THE_ENGINE = ("celery", "django", "horses", "plotly", "practice", "psycopg")


def lint_imports(folder: Path) -> "subprocess.CompletedProcess[str]":
    command = (
        sys.executable,
        "-c",
        "from importlinter.cli import lint_imports_command as run; run()",
    )
    return subprocess.run(
        (*command, "--no-cache"), cwd=folder, capture_output=True, text=True, check=False
    )


def test_every_import_keeps_to_the_layers() -> None:
    result = lint_imports(ROOT)
    assert result.returncode == 0, result.stdout + result.stderr


def test_the_check_notices_an_import_that_points_up(tmp_path: Path) -> None:
    for package in ("practice", "fitting", "horses"):
        (tmp_path / package).symlink_to(ROOT / package)
    (tmp_path / "pyproject.toml").symlink_to(ROOT / "pyproject.toml")
    (tmp_path / "horses").unlink()
    (tmp_path / "horses").mkdir()
    for inside in (ROOT / "horses").iterdir():
        (tmp_path / "horses" / inside.name).symlink_to(inside)
    (tmp_path / "horses" / "climber.py").write_text("import practice.apps\n")
    result = lint_imports(tmp_path)
    assert result.returncode == 1
    assert "horses.climber -> practice.apps" in result.stdout


@pytest.fixture(scope="module")
def modules_beside_the_engine() -> set[str]:
    result = subprocess.run(
        (sys.executable, "-c", LIST_MODULES), cwd=ROOT, capture_output=True, text=True, check=True
    )
    return set(json.loads(result.stdout))


def test_the_list_of_modules_is_one(modules_beside_the_engine: set[str]) -> None:
    assert {"numpy", "scipy", "fitting.engine"} <= modules_beside_the_engine


@pytest.mark.parametrize("unwanted", NOT_BENEATH_THE_ENGINE)
def test_importing_the_engine_brings_nothing_else(
    unwanted: str, modules_beside_the_engine: set[str]
) -> None:
    assert unwanted not in modules_beside_the_engine
