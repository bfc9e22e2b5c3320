from __future__ import annotations

import io

import pandas as pd
import pytest

from dashboards.app import create_app
from dashboards.desk import desk_of
from dashboards.downloads import FLAGGED, TABLES
from tests.dashboards.desks import KIT, audit_table, empty_desk, frames_table, season_desk, three_row_desk


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
