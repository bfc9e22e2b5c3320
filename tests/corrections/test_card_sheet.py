"""Sheets to print, and the cards as a table."""

from __future__ import annotations

import datetime as dt
import html.parser
import re

import pandas as pd
import pytest

from auditor.audit.card import make_card
from auditor.corrections.card_sheet import card_sheet, card_table, sheet
from auditor.model.cards import CAUTION
from auditor.model.kit import parse_kit
from auditor.model.pairings import kit_pairings
from auditor.model.settings import Settings
from tests.kits import KIT_TEXT

DAY = dt.date(2026, 5, 1)


def _cards(text: str = KIT_TEXT):
    pairings = kit_pairings(parse_kit(text), stacks=["m42-tube-10+m42-plain"])
    return [make_card(pairing, Settings()) for pairing in pairings]


class _Balance(html.parser.HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text = ""

    def handle_starttag(self, tag, attrs):
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data


def _text(page: str) -> str:
    parser = _Balance()
    parser.feed(page)
    assert parser.open == []
    return parser.text


@pytest.mark.parametrize("paper", ["a4", "a5"])
def test_every_card_is_on_the_sheet(paper):
    cards = _cards()
    page = card_sheet(cards, paper=paper, day=DAY)
    said = _text(page)
    assert f"size: {paper.upper()}" in page
    assert CAUTION in said
    assert "2026-05-01" in said
    typed = [card for card in cards if not card.contacts]
    assert page.count('<section class="card"') == len(typed)
    for card in typed:
        assert f'id="{card.pairing}"' in page
        assert all(f">{line.type_mm:g}</td>" in page for line in card.settings)
    assert "Vesper 25 mm on Silver body" in said


def test_nothing_comes_from_elsewhere():
    page = card_sheet(_cards(), paper="a4", day=DAY)
    assert not re.search(r"https?://|src=|@import|url\(", page)


def test_words_of_the_user_s_own_are_only_words():
    text = KIT_TEXT.replace("Orla 50 mm f/1.4", "<script>alert(1)</script>").replace("M42 plain", "a & b")
    page = card_sheet(_cards(text), paper="a4", day=DAY)
    assert "<script" not in page
    assert "a &amp; b" in page


def test_what_is_not_known_is_a_dash():
    text = KIT_TEXT.replace("sensor_mm = [17.4, 13.0]\n", "").replace("stabiliser_stops = 5.0\n", "", 1)
    page = card_sheet(_cards(text), paper="a4", day=DAY)
    assert "nan" not in _text(page).lower()
    assert "–" in page


def test_a_tube_beyond_the_law_has_no_shutter_table():
    text = KIT_TEXT.replace("extension_mm = 10.0", "extension_mm = 25.0")
    card = next(c for c in _cards(text) if c.pairing == "orla-50+m42-tube-10+m42-plain@one")
    assert "Slowest by hand" not in card_sheet([card], paper="a4", day=DAY)


def test_table_has_one_row_a_distance():
    cards = _cards()
    table = card_table(cards)
    assert len(table) == sum(max(len(card.settings), 1) for card in cards)
    orla = table[table["pairing"] == "orla-50+m42-plain@one"]
    assert orla["type_mm"].tolist() == [50, 51, 52, 54, 57]
    assert (orla["right_setting_low_mm"] < orla["right_setting_high_mm"]).all()
    assert len(set(orla["exposure_80_percent_on_s"])) == 1
    told = table[table["pairing"] == "vesper-25@one"]
    assert told["type_mm"].isna().all()
    assert isinstance(table, pd.DataFrame)


def test_any_sheet():
    page = sheet("Setting test", "<p>body</p>", paper="a5", caution="Judge <centre>", day=DAY)
    assert "Judge &lt;centre&gt;" in page
    assert "margin: 8mm" in page
