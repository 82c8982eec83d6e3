"""Chromium on the real pages. A screenshot of a failing test is kept in test-results/."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 800}
RESULTS = Path(__file__).parents[2] / "test-results"
PATIENCE_MS = 20_000  # generous: two busy cores, software drawing
# As root Chromium needs no-sandbox; the others keep it from calling home.
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def chromium_path() -> str | None:
    return os.environ.get("CHROMIUM_PATH") or shutil.which("chromium")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = chromium_path()
    if path is None:
        pytest.skip("Chromium is not installed: `apt install chromium` or set CHROMIUM_PATH")
    # Playwright's own loop makes Django think it runs in async code; it does not.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, headless=True, args=FLAGS)
        yield chromium
        chromium.close()


def open_context(browser: Browser, size: dict[str, int], base_url: str) -> BrowserContext:
    context = browser.new_context(
        viewport=size,  # type: ignore[arg-type]
        base_url=base_url,
        has_touch=size is PHONE,
        is_mobile=size is PHONE,
        reduced_motion="reduce",
    )
    context.set_default_timeout(PATIENCE_MS)
    return context


@pytest.fixture
def phone(
    browser: Browser, live_server: LiveServer, request: pytest.FixtureRequest
) -> Iterator[Page]:
    """A page at phone size; problems in the page's own scripts fail the test."""
    context = open_context(browser, PHONE, live_server.url)
    page = context.new_page()
    problems: list[str] = []
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.on("console", lambda m: problems.append(m.text) if "Content Security" in m.text else None)
    yield page
    report = getattr(request.node, "rep_call", None)
    if report is not None and report.failed:
        RESULTS.mkdir(exist_ok=True)
        page.screenshot(path=str(RESULTS / f"{request.node.name}.png"), full_page=True)
    context.close()
    assert not problems, problems


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    outcome = yield
    report = outcome.get_result()  # type: ignore[attr-defined]
    setattr(item, f"rep_{report.when}", report)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
