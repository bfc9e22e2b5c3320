"""The sheets printed by a real browser: on their paper, nothing cut, nothing over the edge."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from auditor.audit.card import make_card
from auditor.corrections.card_sheet import card_sheet
from auditor.model.cards import Card
from auditor.model.pairings import kit_pairings
from auditor.model.settings import Settings
from tests.kits import small_kit

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

CHROMIUM = Path(os.environ.get("STEADYKEEP_CHROMIUM", "/usr/bin/chromium"))
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
             "--disable-sync", "--no-first-run"]  # fmt: skip
# ISO 216: A4 210 × 297 mm, A5 148 × 210 mm; a CSS pixel is 1/96 inch (CSS Values 4, 6.2); margins of the sheet.
PAPERS = {"a4": (210 - 20, 297 - 20), "a5": (148 - 16, 210 - 16)}
PX_A_MM = 96 / 25.4


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not CHROMIUM.exists():
        pytest.skip(f"no Chromium at {CHROMIUM}; STEADYKEEP_CHROMIUM names another place")
    with sync_api.sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def cards() -> list[Card]:
    pairings = kit_pairings(small_kit(), stacks=["m42-tube-10+m42-plain"])
    return [make_card(pairing, Settings()) for pairing in pairings]


def _printed(browser: Browser, cards: list[Card], paper: str) -> Page:
    width, height = (int(side * PX_A_MM) for side in PAPERS[paper])
    page = browser.new_page(viewport={"width": width, "height": height})
    page.emulate_media(media="print")
    page.set_content(card_sheet(cards, paper=paper, day=dt.date(2026, 5, 1)))
    return page


@pytest.mark.parametrize("paper", ["a4", "a5"])
def test_nothing_is_over_the_edge_and_every_card_fits_a_page(browser, cards, paper):
    page = _printed(browser, cards, paper)
    width, height = (side * PX_A_MM for side in PAPERS[paper])
    assert page.evaluate("document.documentElement.scrollWidth") <= width + 1
    boxes = page.evaluate(
        "[...document.querySelectorAll('.card')].map(card => ({id: card.id, height: card.offsetHeight,"
        " over: [...card.querySelectorAll('td, th, h2, h3, li, p')].filter(each =>"
        " each.getBoundingClientRect().right > card.getBoundingClientRect().right).length}))"
    )
    assert len(boxes) == sum(not card.contacts for card in cards)
    assert [box for box in boxes if box["height"] > height or box["over"]] == []
    page.close()


@pytest.mark.parametrize(("paper", "box"), [("a4", (595, 842)), ("a5", (420, 595))])
def test_pdf_is_on_its_paper(browser, cards, paper, box):
    page = _printed(browser, cards, paper)
    pdf = page.pdf(prefer_css_page_size=True)
    page.close()
    boxes = [part.split(b"]")[0].split() for part in pdf.split(b"/MediaBox [")[1:]]
    assert boxes
    for found in boxes:
        assert [round(float(side)) for side in found[2:]] == pytest.approx(list(box), abs=1)


def test_a_phone_shows_it_too(browser, cards):
    page = browser.new_page(viewport={"width": 390, "height": 800})
    page.set_content(card_sheet(cards, paper="a4", day=dt.date(2026, 5, 1)))
    assert page.evaluate("document.documentElement.scrollWidth") <= 391
    page.close()
