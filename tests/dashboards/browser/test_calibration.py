"""The hand and a setting test, by clicks and keys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from auditor.model.settings import Hand
from auditor.model.workspace import open_workspace
from dashboards.watched import workspace_desk
from tests.dashboards.browser.test_pages import serious, settle
from tests.dashboards.test_calibration import filled

if TYPE_CHECKING:
    from playwright.sync_api import Page

    Open = Callable[..., Page]

pytestmark = pytest.mark.browser
ADDRESS = "/calibration?pairing=one%2Fhale-85%2Fm42-plain&distance=3"


def test_the_hand_comes_by_itself_is_written_by_keyboard_and_taken_back(
    open_page: Open, own_address: str, folder: Path
) -> None:
    page = open_page(f"{own_address}/calibration", width=390, height=844)
    page.get_by_role("heading", name="What your frames say").wait_for(timeout=60_000)  # it looks again by itself
    settle(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert serious(page) == []
    page.get_by_role("button", name="Write what was told").press("Enter")
    page.locator("#calibration-said", has_text="Written: shake_mrad = 0.181").wait_for(timeout=60_000)
    page.locator("#audit-age", has_text="settings.toml was changed after the last audit").wait_for()
    assert open_workspace(folder).settings.hand.shake_mrad == 0.181
    page.get_by_role("button", name="Take the last change back").press("Enter")
    page.locator("#calibration-said", has_text="Taken back: hand from one").wait_for()
    assert open_workspace(folder).settings.hand == Hand()


def test_two_tabs_do_not_write_a_hand_over_each_other(open_page: Open, own_address: str, folder: Path) -> None:
    one, other = (open_page(f"{own_address}/calibration?on=one") for _ in range(2))
    for page in (one, other):
        page.get_by_role("button", name="Write what was told").wait_for(timeout=60_000)
    one.get_by_role("button", name="Write what was told").click()
    one.locator("#calibration-said", has_text="Written").wait_for(timeout=60_000)
    other.get_by_role("button", name="Write what was told").click()
    other.locator("#calibration-said", has_text="changed meanwhile, nothing was written").wait_for(timeout=60_000)
    other.get_by_role("button", name="Take the last change back").click()
    other.locator("#calibration-said", has_text="Taken back").wait_for()
    assert open_workspace(folder).settings.hand == Hand()


def test_a_setting_test_is_planned_by_keyboard(open_page: Open, own_address: str) -> None:
    page = open_page(f"{own_address}/calibration?part=test")
    page.get_by_role("textbox", name="Pairing").focus()
    page.keyboard.type("Hale 85 mm f/2 + M42 plain ring on Silver")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.get_by_role("textbox", name="Frames at each").fill("4")
    page.get_by_role("button", name="Plan the test").press("Enter")
    page.get_by_text("48 frames in random order").wait_for()
    assert "pairing=one%2Fhale-85%2Fm42-plain" in page.url
    again = open_page(page.url)
    again.get_by_text("48 frames in random order").wait_for()
    page.goto(f"{own_address}/paper/setting-test-a4.html?{page.url.split('?')[1]}")
    assert page.locator(".blank").count() == 96
    assert [found for found in serious(page) if "(serious)" in found or "(critical)" in found] == []


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_a_setting_test_is_read_noted_and_taken_back(
    open_page: Open, own_address: str, folder: Path, scheme: str, width: int
) -> None:
    before = (folder / "kit.toml").read_bytes()
    page = open_page(own_address + ADDRESS, scheme=scheme, width=width)
    page.get_by_role("button", name="Read the test").press("Enter")
    page.get_by_text("Which frames?").wait_for()
    page.get_by_role("textbox", name="Or the filled-in table").fill(filled(workspace_desk(folder)()))
    page.get_by_role("button", name="Read the test").press("Enter")
    page.get_by_role("heading", name="The answer").wait_for()
    settle(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert serious(page) == []
    page.get_by_role("button", name="for the lens").press("Enter")
    page.locator("#calibration-said", has_text="at 3 m under breathing").wait_for()
    assert open_workspace(folder).kit.lens("hale-85").breathing
    page.get_by_role("button", name="Take the last change back").press("Enter")
    page.locator("#calibration-said", has_text="Taken back: setting test of hale-85").wait_for()
    assert (folder / "kit.toml").read_bytes() == before
