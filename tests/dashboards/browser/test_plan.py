from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from auditor.pipeline.planning import plan_of
from dashboards import weighed
from dashboards.watched import workspace_desk
from dashboards.weighed import COMPARED, fair_rates, weighing
from tests.dashboards.browser.conftest import served
from tests.dashboards.browser.test_pages import serious, settle

if TYPE_CHECKING:
    from playwright.sync_api import Page

    Open = Callable[..., Page]

pytestmark = pytest.mark.browser


def test_one_does_without_a_lens_by_keyboard_and_takes_it_back(open_page: Open, sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    weighing(desk)
    with served(desk) as address:
        page = open_page(f"{address}/plan")
        page.get_by_role("row", name="Orla 50").get_by_role("link", name="Do without it").press("Enter")
        page.get_by_text("keepers would be out of reach").wait_for()
        assert "without=orla-50" in page.url
        settle(page)
        assert serious(page) == []
        page.get_by_role("row", name="Orla 50").get_by_role("link", name="Take it back").press("Enter")
        page.get_by_text("to see which keepers go with it").wait_for()


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_fair_rates_fit_and_are_accessible(open_page: Open, sample_workspace: Path, scheme: str, width: int) -> None:
    desk = workspace_desk(sample_workspace)()
    for by in COMPARED:
        fair_rates(desk, by)
    with served(desk) as address:
        page = open_page(f"{address}/keep-rates", scheme=scheme, width=width)
        settle(page)
        page.get_by_text("In words").first.click()
        page.get_by_text("Not in any record").first.wait_for()
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert serious(page) == []


def test_a_page_that_waits_looks_again_by_itself(
    open_page: Open, sample_workspace: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = workspace_desk(sample_workspace)()
    ready = threading.Event()

    def slow(*given: object) -> object:
        ready.wait(60)
        return plan_of(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(weighed, "plan_of", slow)
    with served(desk) as address:
        page = open_page(f"{address}/plan")
        page.get_by_role("link", name="Look again").wait_for()
        ready.set()
        page.get_by_role("link", name="Do without it").first.wait_for()
