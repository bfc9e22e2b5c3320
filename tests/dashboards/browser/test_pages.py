from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from dashboards.desk import desk_of
from dashboards.pages import PAGES
from tests.dashboards.browser.conftest import served
from tests.dashboards.desks import audit_table, empty_desk, frames_table

if TYPE_CHECKING:
    from playwright.sync_api import Page

    Open = Callable[..., Page]

pytestmark = pytest.mark.browser
SHOTS = os.environ.get("STEADYKEEP_SCREENSHOTS")
SCREENS = {"desk": (1280, 900), "phone": (390, 844)}


def settle(page: Page) -> None:
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(400)


def serious(page: Page) -> list[str]:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    found = axe.Axe().run(page).response["violations"]
    return [
        f"{violation['id']} ({violation['impact']}): {node['html'][:160]}"
        for violation in found
        for node in violation["nodes"][:3]
    ]


@pytest.mark.parametrize(
    ("scheme", "screen"),
    [("light", "desk"), ("dark", "desk"), ("light", "phone"), ("dark", "phone")][: 4 if SHOTS else 3],
)
@pytest.mark.parametrize("path", [page.path for page in PAGES])
def test_a_page_opens_quietly_fits_and_is_accessible(
    open_page: Open, address: str, path: str, scheme: str, screen: str
) -> None:
    width, height = SCREENS[screen]
    page = open_page(address + path, scheme=scheme, width=width, height=height)
    settle(page)
    if SHOTS:
        name = f"{path.strip('/').replace('/', '-') or 'first'}-{screen}-{scheme}.png"
        page.screenshot(path=Path(SHOTS) / name, full_page=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.title().endswith("steadykeep")
    assert page.locator("h1").count() == 1
    assert serious(page) == []


@pytest.mark.parametrize("screen", SCREENS)
def test_a_lens_s_own_page_fits_and_is_accessible(open_page: Open, address: str, screen: str) -> None:
    width, height = SCREENS[screen]
    page = open_page(f"{address}/lenses?lens=orla-50", width=width, height=height)
    page.get_by_role("heading", name="Kept and sharp").wait_for()
    settle(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert serious(page) == []


def test_the_open_filters_are_accessible(open_page: Open, address: str) -> None:
    page = open_page(address)
    page.get_by_text("Showing").click()
    page.get_by_role("textbox", name="Lens", exact=True).click()
    page.get_by_role("option", name="Orla 50 mm f/1.4").wait_for()
    assert serious(page) == []


def test_choosing_a_filter_writes_the_address_and_a_link_opens_the_same_view(open_page: Open, address: str) -> None:
    page = open_page(address)
    page.get_by_text("Showing").click()
    page.get_by_role("textbox", name="Trip", exact=True).click()
    page.get_by_role("option", name="Moor in the rain").click()
    page.get_by_text("in 4 trips").wait_for(state="detached")
    assert "trip=Moor+in+the+rain" in page.url
    assert page.locator("#filters-said").inner_text() == "Moor in the rain"
    lead = page.locator(".lead").inner_text()
    again = open_page(page.url)
    assert again.locator(".lead").inner_text() == lead
    again.get_by_text("Showing").click()
    assert again.locator("#filter-trip").locator("..").get_by_text("Moor in the rain").first.is_visible()


def test_going_back_takes_the_filter_off(open_page: Open, address: str) -> None:
    page = open_page(address)
    whole = page.locator(".lead").inner_text()
    page.get_by_text("Showing").click()
    page.get_by_role("textbox", name="Lens", exact=True).click()
    page.get_by_role("option", name="Orla 50 mm f/1.4").click()
    page.wait_for_url("**lens=orla-50*")
    page.go_back()
    # Waiting by locator: a function that is waited for is evaluated in the page, which its policy rightly refuses.
    page.locator("#filters-said", has_text="all frames").wait_for()
    page.locator(".lead", has_text=whole.split("\n")[0]).first.wait_for()
    assert page.locator(".lead").inner_text() == whole


def test_everything_can_be_reached_by_keyboard(open_page: Open, address: str) -> None:
    page = open_page(address)
    settle(page)
    reached = []
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement === document.body"):
            break
        reached.append(page.evaluate("(document.activeElement.innerText || '').trim()"))
        ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert ring != "none" or not reached[-1] or "ag-" in page.evaluate("document.activeElement.className"), reached
    assert reached[0] == "To the page's content"
    for words in ("After the trip", "Dark", "As a table", "Take as CSV"):
        assert words in reached, reached


def test_the_scheme_is_changed_by_a_press_and_remembered(open_page: Open, address: str) -> None:
    page = open_page(address)
    settle(page)
    page.get_by_role("button", name="Light or dark").click()
    assert page.evaluate("document.documentElement.dataset.mantineColorScheme") == "dark"
    page.reload()
    page.locator("main h1").wait_for()
    assert page.evaluate("document.documentElement.dataset.mantineColorScheme") == "dark"


def test_the_list_of_flagged_frames_scrolls_to_its_end(open_page: Open, address: str) -> None:
    page = open_page(address + "/worth-a-look")
    page.locator(".ag-cell", has_text="Set to").first.click()
    page.keyboard.press("Control+End")
    total = int(page.get_by_text("the worst first").inner_text().split()[0])
    page.locator(f".ag-row[row-index='{total - 1}'] .ag-cell").first.wait_for()


def test_a_csv_can_be_taken(open_page: Open, address: str) -> None:
    page = open_page(f"{address}/settings?lens=orla-50")
    with page.expect_download() as taken:
        page.get_by_role("link", name="Take as CSV").first.click()
    assert taken.value.path().read_text(encoding="utf-8").count("\n") > 3


def test_an_empty_store_says_what_to_run(open_page: Open) -> None:
    with served(empty_desk()) as address:
        page = open_page(address, width=390)
        assert page.get_by_text("steadykeep index").is_visible()
        assert serious(page) == []


NASTY = "\"><img src=x onerror=\"document.title='taken over'\"><script>document.title='taken over'</script>"


def test_scripts_in_names_are_shown_as_text(open_page: Open) -> None:
    rows = [{"path": f"{NASTY}/{n}{NASTY}.jpg", "lens_model": NASTY} for n in range(3)]
    audited = [
        {"path": row["path"], "trip": NASTY, "lens": NASTY, "body": NASTY, "flags": [NASTY], "kept": True}
        for row in rows
    ]
    with served(desk_of(frames_table(rows), audit_table(audited))) as address:
        for each in PAGES:
            page = open_page(address + each.path)
            settle(page)
            assert page.title().endswith("steadykeep")
            assert page.locator("img[src=x]").count() == 0
