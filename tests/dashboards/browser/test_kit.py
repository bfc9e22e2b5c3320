"""The kit, kept by clicks and keys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from auditor.model.workspace import open_workspace
from tests.dashboards.browser.test_pages import NASTY, serious, settle

if TYPE_CHECKING:
    from playwright.sync_api import Page

    Open = Callable[..., Page]

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_the_kit_and_a_form_fit_and_are_accessible(open_page: Open, own_address: str, scheme: str, width: int) -> None:
    page = open_page(f"{own_address}/kit", scheme=scheme, width=width)
    settle(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert serious(page) == []
    page.get_by_role("link", name="Orla 50 mm f/1.4", exact=True).click()
    page.get_by_role("textbox", name="Measured focal length, mm").wait_for()
    settle(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert serious(page) == []


def test_a_lens_is_changed_by_keyboard_on_a_phone_and_taken_back(
    open_page: Open, own_address: str, folder: Path
) -> None:
    before = (folder / "kit.toml").read_bytes()
    page = open_page(f"{own_address}/kit?entry=lenses/hale-85", width=390, height=844)
    page.get_by_role("textbox", name="Price").fill("much")
    page.get_by_role("textbox", name="Long end of a zoom, mm").fill("70")
    page.get_by_role("button", name="Write it to kit.toml").press("Enter")
    page.locator("#kit-said", has_text="2 things are wrong, nothing was written").wait_for()
    page.locator(".mantine-InputWrapper-error", has_text="should be a number").wait_for()
    page.locator(".mantine-InputWrapper-error", has_text="has its ends reversed").wait_for()
    assert serious(page) == []
    assert (folder / "kit.toml").read_bytes() == before
    page.get_by_role("textbox", name="Price").fill("255,50")
    page.get_by_role("textbox", name="Long end of a zoom, mm").fill("")
    page.get_by_role("textbox", name="1. Focus distance, m").fill("0.85")
    page.get_by_role("textbox", name="1. Right setting, mm").fill("93")
    page.get_by_role("button", name="Write it to kit.toml").press("Enter")
    page.locator("#kit-said", has_text="Changed in kit.toml: hale-85 (breathing, price).").wait_for()
    page.locator("#audit-age", has_text="kit.toml was changed after the last audit").wait_for()
    lens = open_workspace(folder).kit.lens("hale-85")
    assert (lens.price, lens.breathing) == (255.5, ((0.85, 93.0),))
    page.get_by_role("button", name="Take the last change back").press("Enter")
    page.locator("#kit-said", has_text="Taken back: lens hale-85 changed").wait_for()
    assert (folder / "kit.toml").read_bytes() == before


def test_a_lens_that_the_log_names_is_removed_only_when_that_was_said(
    open_page: Open, own_address: str, folder: Path
) -> None:
    page = open_page(f"{own_address}/kit?entry=lenses/hale-85")
    assert page.get_by_text("rows of the log name this lens").is_visible()
    page.get_by_role("button", name="Remove it", exact=True).click()
    page.locator("#kit-said", has_text="without it what names it no longer counts").wait_for()
    assert any(lens.id == "hale-85" for lens in open_workspace(folder).kit.lenses)
    page.get_by_role("button", name="Remove it all the same").click()
    page.locator("#kit-said", has_text="Removed from kit.toml: hale-85").wait_for()
    assert not any(lens.id == "hale-85" for lens in open_workspace(folder).kit.lenses)
    page.get_by_role("button", name="Take the last change back").click()
    page.locator("#kit-said", has_text="Taken back: lens hale-85 removed").wait_for()
    assert any(lens.id == "hale-85" for lens in open_workspace(folder).kit.lenses)


def test_an_adapter_is_added_with_a_name_that_is_a_script(open_page: Open, own_address: str, folder: Path) -> None:
    page = open_page(f"{own_address}/kit")
    page.get_by_role("link", name="Add an adapter").click()
    for label, typed in (("Id", "tube-10"), ("Name", NASTY), ("Mount on the lens side", "M42"),
                         ("Mount on the body side", "M42"), ("Extension, mm", "10")):  # fmt: skip
        page.get_by_role("textbox", name=label, exact=True).fill(typed)
    page.get_by_role("button", name="Add it to kit.toml").click()
    page.locator("#kit-said", has_text="Added to kit.toml: tube-10").wait_for()
    assert open_workspace(folder).kit.adapter("tube-10").name == NASTY
    for path in ("/kit", "/kit?entry=adapters/tube-10", "/log"):
        other = open_page(own_address + path)
        settle(other)
        assert other.title().endswith("steadykeep")
        assert other.locator("img[src=x]").count() == 0
    page.get_by_role("button", name="Take the last change back").click()
    page.locator("#kit-said", has_text="Taken back: adapter tube-10 added").wait_for()


def test_two_tabs_do_not_write_over_each_other(open_page: Open, own_address: str, folder: Path) -> None:
    one, other = (open_page(f"{own_address}/kit?entry=bodies/two") for _ in range(2))
    for page, gain in ((one, "1.02"), (other, "1.03")):
        page.get_by_role("textbox", name="Stabiliser's gain").fill(gain)
    one.get_by_role("button", name="Write it to kit.toml").click()
    one.locator("#kit-said", has_text="Changed in kit.toml").wait_for()
    other.get_by_role("button", name="Write it to kit.toml").click()
    other.locator("#kit-said", has_text="was changed in kit.toml by something else meanwhile").wait_for()
    assert open_workspace(folder).kit.body("two").stabiliser_gain == 1.02
    other.get_by_role("button", name="Take the last change back").click()
    other.locator("#kit-said", has_text="Taken back").wait_for()


def test_the_audit_is_made_anew_from_the_kits_page(open_page: Open, own_address: str) -> None:
    page = open_page(f"{own_address}/kit?entry=lenses/bruna-135")
    page.get_by_role("textbox", name="Price").fill("99")
    page.get_by_role("button", name="Write it to kit.toml").click()
    page.locator("#audit-age", has_text="changed after the last audit").wait_for()
    page.get_by_role("button", name="Audit again").click()
    page.get_by_text("The audit is new.").wait_for(timeout=60_000)
    page.locator("#audit-age", has_text="The audit is newer than the kit").wait_for()
