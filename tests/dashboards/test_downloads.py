from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from dash import dcc, html
from dash.development.base_component import Component

from auditor.model.workspace import open_workspace
from auditor.pipeline.questioning import ask
from dashboards.app import create_app, turn_to
from dashboards.components import Page
from dashboards.desk import desk_of
from dashboards.downloads import FLAGGED, TABLES
from dashboards.own_tables import OWN
from dashboards.pages import PAGES
from dashboards.thumbnails import key_of
from dashboards.watched import workspace_desk
from tests.dashboards.desks import KIT, audit_table, empty_desk, frames_table, season_desk, three_row_desk
from tests.dashboards.test_app import text_of


def taken(desk: object, address: str) -> pd.DataFrame:
    answer = create_app(desk).server.test_client().get(address)  # type: ignore[arg-type]
    assert answer.status_code == 200
    assert answer.mimetype == "text/csv"
    assert "attachment" in answer.headers["Content-Disposition"]
    return pd.read_csv(io.StringIO(answer.text))


@pytest.mark.parametrize("name", [*TABLES, FLAGGED])
def test_every_table_can_be_taken_even_an_empty_one(name: str) -> None:
    assert taken(empty_desk(), f"/table/{name}.csv").empty
    assert len(taken(season_desk(300, measured=True), f"/table/{name}.csv")) > 0


def test_it_is_narrowed_as_the_page_is() -> None:
    whole = taken(three_row_desk(), "/table/frames-worth-a-look.csv")
    part = taken(three_row_desk(), "/table/frames-worth-a-look.csv?verdict=too-long")
    assert whole["path"].tolist() == ["harbour/b.jpg", "harbour/c.jpg"]
    assert part["path"].tolist() == ["harbour/b.jpg"]


def test_text_cannot_become_a_formula() -> None:
    rows = [{"path": "=cmd|' /C calc'!A0.jpg"}, {"path": "+1.jpg"}, {"path": "@x.jpg"}, {"path": "-2.jpg"}]
    audited = [{**row, "flags": ["pairing-unknown"]} for row in rows]
    paths = taken(desk_of(frames_table(rows), audit_table(audited), KIT), "/table/frames-worth-a-look.csv")["path"]
    assert all(path.startswith("'") for path in paths)


@pytest.mark.parametrize("name", OWN)
def test_what_a_single_page_shows_can_be_taken_even_when_it_is_nothing(name: str, own_workspace: Path) -> None:
    assert taken(empty_desk(), f"/table/{name}.csv?at=0-0").empty
    ask(open_workspace(own_workspace), most=2)
    desk = workspace_desk(own_workspace)()
    key = key_of(desk, int(desk.flagged[0]))
    assert not taken(desk, f"/table/{name}.csv?at={key}").empty


def test_breathing_is_of_the_lens_that_is_looked_at(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    whole = taken(desk, "/table/breathing.csv")
    one = taken(desk, f"/table/breathing.csv?lens={whole['lens'].iloc[0]}")
    assert set(one["lens"]) == {whole["lens"].iloc[0]}
    assert taken(desk, "/table/breathing.csv?lens=no-such").empty


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.path)
def test_each_table_on_a_page_has_a_csv_beside_it(page: Page, sample_workspace: Path) -> None:
    """Of every sheet that shows a table or a chart, there is a CSV; what is only typed or printed is not shown so."""
    desk = workspace_desk(sample_workspace)()
    search = f"?at={key_of(desk, int(desk.flagged[0]))}&lens=orla-50" if page.path in {"/frame", "/lenses"} else ""
    for laid in (turn_to(desk, page.path, search)[0], turn_to(desk, page.path, "")[0]):
        for sheet in parts_of(laid, html.Section):
            if any(True for kind in (html.Table, dcc.Graph) for _ in parts_of(sheet, kind)):
                links = [str(link.href) for link in parts_of(sheet, html.A)]
                wanting = page.path in {"/card", "/kit"}  # the card as a whole, the kit by its file and its pairings
                assert wanting or any(".csv" in href for href in links), text_of(sheet)[:80]


def parts_of(laid: Component, kind: type) -> Iterator[Any]:
    return (part for part in [laid, *laid._traverse()] if isinstance(part, kind))
