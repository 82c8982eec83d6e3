"""What the documents promise about settings is what the code reads."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
READ_IN_CODE = re.compile(r'env_(?:text|bool|int|secret)\(\s*"([A-Z][A-Z0-9_]*)"')
RUN_LINES = {
    "run:demo": "python3 -m venv .venv && .venv/bin/pip install -q -r requirements.txt"
    " && .venv/bin/python manage.py demo",
    "run:tests": "python3 -m venv .venv && .venv/bin/pip install -q -r tests/requirements.txt"
    " && .venv/bin/pytest",
}


def text(name: str) -> str:
    path = ROOT / name
    assert path.exists(), f"{name} is missing"
    return path.read_text(encoding="utf-8")


def settings_read() -> set[str]:
    return {
        name
        for path in (ROOT / "practice").rglob("*.py")
        for name in READ_IN_CODE.findall(path.read_text(encoding="utf-8"))
    }


def settings_table() -> set[str]:
    rows = [line.split("|")[1] for line in text("README.md").splitlines() if line.startswith("| `")]
    return {name for cell in rows for name in re.findall(r"`([A-Z][A-Z0-9_]*)`", cell)}


def test_the_search_for_settings_finds_them() -> None:
    assert {
        "SECRET_KEY",
        "DATABASE_URL",
        "PROXY_COUNT",
        "DEBUG",
        "FIRST_USER_NAME",
    } <= settings_read()


def test_the_readme_lists_every_setting_and_no_other() -> None:
    assert settings_table() == settings_read()


def test_the_example_file_lists_every_setting_and_no_other() -> None:
    listed = re.findall(r"^#? ?([A-Z][A-Z0-9_]*)=", text(".env.example"), re.MULTILINE)
    assert set(listed) == settings_read()
    assert len(listed) == len(set(listed))


def test_the_compose_file_sets_only_settings_that_exist() -> None:
    names = set(re.findall(r"^    ([A-Z][A-Z0-9_]*):", text("docker-compose.yml"), re.MULTILINE))
    assert {name.removesuffix("_FILE") for name in names} <= settings_read()


@pytest.mark.parametrize("marker", RUN_LINES)
def test_the_readme_has_the_line_to_run(marker: str) -> None:
    found = re.findall(rf"<!-- {marker} -->\n```sh\n(.*)\n```", text("README.md"))
    assert found == [RUN_LINES[marker]]


def test_every_file_the_readme_links_to_is_there() -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", text("README.md"))
    assert links
    assert [link for link in links if not (ROOT / link).exists()] == []
