"""A real browser over real pages. Skips, saying so, where Chromium is absent."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from dashboards.app import create_app
from dashboards.desk import Desk
from dashboards.serve import behind_the_guard
from dashboards.watched import workspace_desk
from tests.dashboards.desks import season_desk
from tests.dashboards.servers import free_port, running

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Page, Request, Response

CHROMIUM = Path(os.environ.get("STEADYKEEP_CHROMIUM", "/usr/bin/chromium"))
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--no-default-browser-check",
]


@contextmanager
def served(desk: Desk | Callable[[], Desk]) -> Iterator[str]:
    """Serve a desk as the product does, on a free port; yields the address."""
    port = free_port()
    with running(behind_the_guard(create_app(desk), port), port, threads=8) as address:
        yield address


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    with served(season_desk(measured=True)) as opened:
        yield opened


@pytest.fixture(scope="module")
def folder(sample_workspace: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the sample workspace that the tests of one module may write to; its archive is the sample's own."""
    copy = tmp_path_factory.mktemp("own") / "workspace"
    shutil.copytree(sample_workspace, copy, ignore=shutil.ignore_patterns("archive"))
    return copy


@pytest.fixture(scope="module")
def own_address(folder: Path) -> Iterator[str]:
    """Where that copy is served."""
    with served(workspace_desk(folder)) as opened:
        yield opened


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not CHROMIUM.exists():
        pytest.skip(f"no Chromium at {CHROMIUM}; STEADYKEEP_CHROMIUM names another place")
    with sync_api.sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield chromium
        chromium.close()


def _listen(page: Page, problems: list[str]) -> None:
    """Write down what a quiet page does not do: console messages, failed requests, requests to other machines."""

    def hear(message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"}:
            problems.append(f"console {message.type}: {message.text}")

    def sent(request: Request) -> None:
        if not request.url.startswith(("http://127.0.0.1:", "data:", "blob:")):
            problems.append(f"left the machine: {request.url}")

    def answered(response: Response) -> None:
        if response.status >= 400:
            problems.append(f"{response.status} {response.url}")

    page.on("console", hear)
    page.on("request", sent)
    page.on("response", answered)
    page.on("pageerror", lambda error: problems.append(f"page error: {error}"))
    page.on("requestfailed", lambda request: problems.append(f"failed: {request.url} {request.failure}"))


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Open pages, each as a visitor of its own; all must have been quiet when the test ends."""
    problems: list[str] = []
    contexts = []

    def opened(url: str, scheme: str = "light", width: int = 1280, height: int = 900) -> Page:
        context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
        contexts.append(context)
        page = context.new_page()
        _listen(page, problems)
        page.goto(url)
        page.locator("main h1").wait_for()
        return page

    yield opened
    for context in contexts:
        context.close()
    assert problems == []
