"""Cards of a whole workspace."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

import pytest

from auditor.errors import InputError
from auditor.model.workspace import open_workspace
from auditor.pipeline.carding import chosen_pairings, make_cards, picture_widths_px, write_card_sheet, write_card_table


def test_cards_of_the_sample(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    cards = make_cards(workspace)
    assert len(cards) >= 12
    assert len({card.pairing for card in cards}) == len(cards)
    assert set(picture_widths_px(workspace)) == {body.id for body in workspace.kit.bodies}


def test_pairings_by_name(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    every = {card.pairing for card in make_cards(workspace)}
    some = next(name for name in sorted(every) if "+" in name)
    lens, body = some.split("+")[0], some.split("@")[1]
    assert [card.pairing for card in make_cards(workspace, [some])] == [some]
    assert {card.pairing for card in make_cards(workspace, [lens])} == {n for n in every if n.split("+")[0] == lens}
    of_body = {card.pairing for card in make_cards(workspace, [f"{lens}@{body}"])}
    assert of_body == {name for name in every if name.split("+")[0] == lens and name.endswith(f"@{body}")}


def test_an_unknown_pairing_names_the_nearest(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    known = next(card.pairing for card in make_cards(workspace))
    with pytest.raises(InputError, match=f'did you mean "{known}"'):
        chosen_pairings(workspace, [known.replace("@", "@@")])


def test_a_kit_that_fits_nothing(own_workspace: Path):
    kit = own_workspace / "kit.toml"
    text = kit.read_text(encoding="utf-8")
    kit.write_text(text[: text.index("[[lenses]]")], encoding="utf-8")
    (own_workspace / "log.csv").unlink()
    with pytest.raises(InputError, match="nothing to make a card of"):
        make_cards(open_workspace(own_workspace))


def test_without_a_store_widths_are_not_known(own_workspace: Path, tmp_path: Path):
    bare = tmp_path / "bare"
    bare.mkdir()
    for name in ("kit.toml", "settings.toml"):
        (bare / name).write_bytes((own_workspace / name).read_bytes())
    assert picture_widths_px(open_workspace(bare)) == {}


def test_files(own_workspace: Path, tmp_path: Path):
    cards = make_cards(open_workspace(own_workspace))
    page, table = tmp_path / "card.html", tmp_path / "card.csv"
    write_card_sheet(cards, page, paper="a5", day=dt.date(2026, 5, 1))
    write_card_table(cards, table)
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    with table.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {row["pairing"] for row in rows} == {card.pairing for card in cards}
