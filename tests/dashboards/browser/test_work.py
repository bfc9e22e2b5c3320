"""The tasks that change something, done by clicks and keys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from auditor.model.workspace import open_workspace
from auditor.pipeline.questioning import ask
from tests.dashboards.browser.test_pages import serious, settle

if TYPE_CHECKING:
    from playwright.sync_api import Page

    Open = Callable[..., Page]

pytestmark = pytest.mark.browser


def test_the_forgotten_setting_of_the_second_trip_is_two_looks_away(open_page: Open, own_address: str) -> None:
    page = open_page(own_address)
    first = page.locator(".stretches li").first
    assert "2 May" in first.inner_text()
    assert "what the pairing before needed" in first.inner_text()
    first.get_by_role("link", name="See its frames").click()
    page.locator(".thumb-link").first.click()
    page.get_by_text("What is known of it").wait_for()
    settle(page)
    assert page.evaluate("document.querySelector('img.large').naturalWidth") > 0
    assert serious(page) == []
    before = page.url
    page.get_by_role("link", name="The next one").click()
    page.wait_for_url(lambda url: url != before)


def test_a_row_is_noted_by_keyboard_on_a_phone_and_taken_back(open_page: Open, own_address: str, folder: Path) -> None:
    page = open_page(own_address + "/log", width=390, height=844)
    settle(page)
    rows = len(open_workspace(folder).log.rows)
    assert page.get_by_role("textbox", name="Lens").input_value() == "Brúna 135 mm f/3.5"  # of the latest row
    page.get_by_role("textbox", name="From").fill("2026-11-01 10:00")
    body = page.get_by_role("textbox", name="Body")
    for _ in range(5):  # the list opens with a movement and takes no key until it is over: on a busy machine, again
        body.focus()
        page.keyboard.press("ArrowDown")
        page.get_by_role("option", name="Silver body").wait_for()
        page.wait_for_timeout(300)
        page.keyboard.press("ArrowUp")
        page.keyboard.press("Enter")
        page.get_by_role("option", name="Silver body").wait_for(state="hidden")
        if body.input_value() == "Silver body":
            break
    assert body.input_value() == "Silver body"
    page.get_by_role("radio", name="Tripod").press("Space")
    page.get_by_role("textbox", name="Setting typed, mm").fill("fifty")
    page.get_by_role("button", name="Add to the log").focus()
    page.keyboard.press("Enter")
    page.locator("#log-said", has_text="fifty").wait_for()
    page.get_by_role("textbox", name="Setting typed, mm").fill("50")
    page.get_by_role("button", name="Add to the log").press("Enter")
    page.locator("#log-said", has_text="Added: from 2026-11-01 10:00").wait_for()
    row = open_workspace(folder).log.rows[-1]
    assert (len(open_workspace(folder).log.rows), row.support, row.setting_mm) == (rows + 1, "tripod", 50)
    page.get_by_text(f"{rows + 1} rows of log.csv").wait_for()
    page.get_by_role("button", name="Take the last change back").press("Enter")
    page.locator("#log-said", has_text="Taken back").wait_for()
    assert len(open_workspace(folder).log.rows) == rows
    assert serious(page) == []


def test_a_row_is_mended_removed_and_both_are_taken_back(open_page: Open, own_address: str, folder: Path) -> None:
    before = (folder / "log.csv").read_bytes()
    page = open_page(own_address + "/log", scheme="dark")
    settle(page)
    page.locator("table.log").get_by_role("button", name="Mend").first.click()
    page.get_by_role("heading", name="Mend line").wait_for()
    page.get_by_role("textbox", name="Setting typed, mm").fill("95,5")
    assert serious(page) == []
    page.get_by_role("button", name="Save the row").click()
    page.locator("#log-said", has_text="Saved: from").wait_for()
    assert open_workspace(folder).log.rows[-1].setting_mm == 95.5
    page.locator("table.log").get_by_role("button", name="Mend").first.click()
    page.get_by_role("button", name="Remove the row").click()
    page.locator("#log-said", has_text="Removed").wait_for()
    for said in ("that was removed", "that was mended"):
        page.get_by_role("button", name="Take the last change back").click()
        page.locator("#log-said", has_text=said).wait_for()
    assert (folder / "log.csv").read_bytes() == before


def test_a_csv_is_looked_at_added_and_taken_back(open_page: Open, own_address: str, folder: Path) -> None:
    before = (folder / "log.csv").read_bytes()
    page = open_page(own_address + "/log", width=390, height=844)
    settle(page)
    notes = b"start,body,note\n2026-11-02 10:00,one,<b>snow</b>\nnoon,one,\n"
    for times in range(2):  # the same name again, which the library's own field would not notice
        with page.expect_file_chooser() as chooser:
            page.get_by_role("button", name="Choose a CSV").press("Enter")
        chooser.value.set_files({"name": "notes.csv", "mimeType": "text/csv", "buffer": notes})
        page.get_by_text("notes.csv: 1 new row").wait_for()
        page.get_by_text("notes.csv line 3").wait_for()
        if not times:
            page.get_by_role("button", name="Leave it").click()
            page.get_by_text("notes.csv: 1 new row").wait_for(state="detached")
    assert serious(page) == []
    assert (folder / "log.csv").read_bytes() == before
    page.get_by_role("button", name="Add 1 row to the log").click()
    page.locator("#log-said", has_text="Added 1 row of notes.csv").wait_for()
    page.get_by_text("<b>snow</b>").first.wait_for()
    page.get_by_role("button", name="Take the last change back").click()
    page.locator("#log-said", has_text="Taken back: the rows").wait_for()
    assert (folder / "log.csv").read_bytes() == before


def test_a_file_too_big_says_so(open_page: Open, own_address: str) -> None:
    page = open_page(own_address + "/log")
    settle(page)
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Choose a CSV").click()
    chooser.value.set_files({"name": "huge.csv", "mimeType": "text/csv", "buffer": b"x" * 3_500_000})
    page.get_by_text("huge.csv is larger than 3 MB").wait_for()


def test_looking_again_is_started_and_watched_to_its_end(open_page: Open, own_address: str) -> None:
    page = open_page(own_address + "/index")
    settle(page)
    page.get_by_role("button", name="Read new and changed frames").click()
    page.get_by_text("The audit is new.").wait_for(timeout=60_000)
    page.get_by_role("link", name="See what was shot").click()
    page.locator("h1", has_text="After the trip").wait_for()


def test_a_question_is_answered_by_a_press_and_taken_back(open_page: Open, own_address: str, folder: Path) -> None:
    ask(open_workspace(folder), most=3)
    page = open_page(own_address + "/questions", width=390, height=844)
    settle(page)
    assert serious(page) == []
    page.locator(".plate", has_text="Question 1").get_by_role("button").first.click()
    page.locator("#answers-said", has_text="Recorded for").wait_for()
    page.get_by_text("Answered:").first.wait_for()
    page.get_by_role("button", name="Take the last answer back").click()
    page.locator("#answers-said", has_text="Taken back").wait_for()
    assert page.get_by_text("Answered:").count() == 0


def test_a_run_is_confirmed_from_a_frame_and_its_support_noted(open_page: Open, own_address: str, folder: Path) -> None:
    files = [folder / name for name in ("log.csv", "answers.csv")]
    before = [file.read_bytes() if file.exists() else None for file in files]
    page = open_page(own_address + "/worth-a-look", width=390, height=844)
    page.locator(".thumb-link").first.click()
    page.get_by_role("button", name="It was this").click()
    page.locator("#run-said", has_text="Recorded for").wait_for()
    assert files[1].read_bytes() != before[1]
    page.get_by_role("button", name="Monopod").press("Enter")
    page.locator("#run-said", has_text="Noted in the log for").wait_for()
    assert "monopod" in {row.support for row in open_workspace(folder).log.rows}
    for _ in range(2):
        page.locator("#run-said").evaluate("node => node.textContent = ''")
        page.get_by_role("button", name="Take the last press back").click()
        page.locator("#run-said", has_text="Taken back").wait_for()
    assert [file.read_bytes() if file.exists() else None for file in files] == before


def test_a_run_is_put_aside_and_looked_at_again(open_page: Open, own_address: str, folder: Path) -> None:
    page = open_page(own_address + "/worth-a-look", scheme="dark")
    whole = page.get_by_text("the worst first").inner_text()
    page.locator(".thumb-link").first.click()
    page.get_by_role("button", name="Fine: put").click()
    page.locator("#run-said", has_text="Put aside").wait_for()
    settle(page)
    assert serious(page) == []
    page.locator("#run-said").get_by_role("link", name="The next one").click()
    page.get_by_role("link", name="All frames worth a look").click()
    page.get_by_role("link", name="looked at and put aside").click()
    page.locator(".thumb-link").first.click()
    page.get_by_role("button", name="Flag the").click()
    page.locator("#run-said", has_text="Worth a look again").wait_for()
    page.get_by_role("link", name="Worth a look").click()
    page.get_by_text(whole).wait_for()


def test_what_limited_a_frame_is_shown_with_its_numbers(open_page: Open, own_address: str) -> None:
    page = open_page(own_address + "/worth-a-look")
    page.locator(".thumb-link").first.click()
    plate = page.locator(".plate", has_text="What limited this frame")
    plate.get_by_text("limited it most").wait_for()
    plate.get_by_text("As a table").click()
    plate.get_by_role("rowheader", name="Diffraction").wait_for()
    with page.expect_download() as taken:
        plate.get_by_role("link", name="Take as CSV").click()
    assert taken.value.path().read_text(encoding="utf-8").splitlines()[1].startswith("shake,")


def test_the_papers_open_quietly(open_page: Open, own_address: str) -> None:
    page = open_page(f"{own_address}/?trip=Lantern+nights")
    settle(page)
    assert page.get_by_role("link", name="Its report, to print").count() == 1
    for paper in ("card-a4.html", "card-a5.html", "trip.html?trip=Lantern+nights"):
        page.goto(f"{own_address}/paper/{paper}")
        assert page.locator("body").inner_text()
        assert [found for found in serious(page) if "(serious)" in found or "(critical)" in found] == []
