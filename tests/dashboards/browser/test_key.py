"""Pages served to others: in a real browser the key lets in, even by a link from elsewhere, and is seen by nobody."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from dashboards.app import create_app
from dashboards.serve import behind_the_guard, link_of
from tests.dashboards.desks import season_desk
from tests.dashboards.servers import free_port, running

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    Open = Callable[..., Page]

pytestmark = pytest.mark.browser


def test_a_link_in_a_mail_lets_in_and_the_key_goes_nowhere_else(browser: Browser) -> None:
    port, mail = free_port(), free_port()
    app = behind_the_guard(create_app(season_desk()), port, "open-sesame", "0.0.0.0")  # noqa: S104
    link = link_of("127.0.0.1", port, "open-sesame")

    def letter(_environ: object, start: Callable[..., object]) -> list[bytes]:
        start("200 OK", [("Content-Type", "text/html")])
        return [f'<a href="{link}">the pages</a>'.encode()]

    with running(app, port, threads=8) as address, running(letter, mail) as foreign:
        context = browser.new_context()
        page = context.new_page()
        asked: list[tuple[str, str]] = []
        page.on("request", lambda request: asked.append((request.url, request.headers.get("referer", ""))))
        refused = page.goto(address)
        assert refused is not None
        assert refused.status == 401
        page.goto(foreign.replace("127.0.0.1", "localhost"))  # another site
        page.get_by_role("link", name="the pages").click()
        page.locator("main h1").wait_for()
        assert page.url == f"{address}/"
        assert page.evaluate("document.cookie") == ""
        (cookie,) = context.cookies()
        assert (cookie["httpOnly"], cookie["sameSite"], cookie["value"]) == (True, "Strict", "open-sesame")
        page.get_by_role("link", name="Settings").click()
        page.locator("h1", has_text="settings").wait_for()
        assert [url for url, referer in asked if "open-sesame" in referer] == []
        assert [url for url, _ in asked if "open-sesame" in url] == [link]
        page.reload()
        page.locator("main h1").wait_for()
        context.close()
