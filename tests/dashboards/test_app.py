from __future__ import annotations

import json
from pathlib import Path

import plotly.io as pio
import pytest
from dash.development.base_component import Component

from dashboards.app import create_app, turn_to
from dashboards.desk import Desk, desk_of
from dashboards.flagged_grid import grid_rows
from dashboards.pages import PAGES, keep_rates
from dashboards.watched import workspace_desk
from dashboards.weighed import COMPARED, Waiting, fair_rates
from tests.dashboards.desks import KIT, audit_table, empty_desk, frames_table, season_desk, three_row_desk


def text_of(piece: object) -> str:
    """All text of a page, one string."""
    if isinstance(piece, Component):
        inner = " ".join(text_of(getattr(piece, prop)) for prop in ("children", "label") if hasattr(piece, prop))
        figure = getattr(piece, "figure", None)
        return inner + (" " + pio.to_json(figure) if figure is not None else "")
    if isinstance(piece, (list, tuple)):
        return " ".join(text_of(part) for part in piece)
    return "" if piece is None else str(piece)


def page(desk: Desk, path: str, search: str = "") -> str:
    return text_of(turn_to(desk, path, search)[0])


@pytest.mark.parametrize("path", [page.path for page in PAGES])
@pytest.mark.parametrize("desk", [empty_desk(), three_row_desk(), season_desk(300)], ids=["empty", "three", "season"])
def test_every_page_can_be_laid_and_sent(path: str, desk: Desk) -> None:
    laid, title, _ = turn_to(desk, path, "")
    assert title.endswith("steadykeep")
    assert text_of(laid)
    assert json.loads(pio.json.to_json_plotly(laid))["type"]


OF_THE_WORKSPACE = {"/index", "/log", "/questions", "/card", "/kit", "/calibration"}
OF_FRAMES = [page.path for page in PAGES if page.in_nav and page.path not in OF_THE_WORKSPACE]


@pytest.mark.parametrize("path", OF_FRAMES)
def test_an_empty_store_says_what_to_run(path: str) -> None:
    assert "steadykeep index" in page(empty_desk(), path)


@pytest.mark.parametrize("path", [path for path in OF_FRAMES if path != "/plan"])  # weighs the whole archive
def test_a_view_that_leaves_nothing_says_so(path: str) -> None:
    assert "No frame is left" in page(three_row_desk(), path, "?lens=no-such-lens")


def test_what_is_narrowed_to_is_said_in_the_kits_names() -> None:
    _, _, said = turn_to(three_row_desk(), "/", "?lens=orla-50&verdict=too-long&since=2026-05-01")
    assert said == "Orla 50 mm f/1.4 · Too long · 2026-05-01 to …"


def test_an_unknown_path_is_said_and_has_its_status() -> None:
    assert "No such page" in page(three_row_desk(), "/nowhere")
    client = create_app(three_row_desk()).server.test_client()
    assert client.get("/nowhere").status_code == 404
    assert client.get("/").status_code == 200


def test_two_apps_in_one_process_keep_to_their_own_desks() -> None:
    one, other = create_app(three_row_desk()), create_app(season_desk(300))
    assert one.server.test_client().get("/table/setting-verdicts.csv").text.count("\n") == 3
    assert other.server.test_client().get("/table/setting-verdicts.csv").text.count("\n") > 10


def test_the_list_answers_by_the_block() -> None:
    answer = grid_rows(three_row_desk(), {"startRow": 0, "endRow": 100}, "")
    assert answer is not None
    assert answer["rowCount"] == 2
    assert [row["frame"].split("\n")[0] for row in answer["rowData"]] == ["b.jpg", "c.jpg"]  # type: ignore[attr-defined]
    assert grid_rows(three_row_desk(), None, "") is None


@pytest.mark.parametrize("wanted", [{"startRow": -10, "endRow": 10**9}, {"startRow": 10**9, "endRow": 10**9 + 1}])
def test_a_wild_request_is_answered_with_what_there_is(wanted: dict[str, int]) -> None:
    answer = grid_rows(season_desk(3000), wanted, "")
    assert answer is not None
    assert len(answer["rowData"]) <= 500  # type: ignore[arg-type]


NASTY = "<img src=x onerror=alert(1)>"


def test_markup_in_names_and_files_stays_text() -> None:
    rows = [{"path": f"{NASTY}/{NASTY}.jpg", "lens_model": NASTY}]
    audited = [{"path": rows[0]["path"], "trip": NASTY, "lens": NASTY, "flags": ["pairing-unknown"], "kept": True}]
    desk = desk_of(frames_table(rows), audit_table(audited), KIT)
    for each in PAGES:
        laid = turn_to(desk, each.path, "")[0]
        for figure in _figures(laid):
            assert "<img" not in pio.to_json(figure).replace("\\u003c", "<")


def _figures(piece: object) -> list[object]:
    if isinstance(piece, (list, tuple)):
        return [figure for part in piece for figure in _figures(part)]
    if not isinstance(piece, Component):
        return []
    own = [piece.figure] if hasattr(piece, "figure") else []
    return own + _figures(getattr(piece, "children", None))


def test_a_page_that_looks_at_desk_and_address_alone_is_laid_once_for_both() -> None:
    desk = three_row_desk()
    first = turn_to(desk, "/", "?lens=orla-50")[0].children[-1]
    assert turn_to(desk, "/", "?lens=orla-50")[0].children[-1] is first
    assert turn_to(desk, "/", "")[0].children[-1] is not first
    assert turn_to(three_row_desk(), "/", "?lens=orla-50")[0].children[-1] is not first
    for number in range(40):  # few are held
        turn_to(desk, "/", f"?nothing={number}")
    assert len(desk.laid) <= 24


def test_a_page_that_still_waits_is_not_held(sample_workspace: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    desk = workspace_desk(sample_workspace)()

    def waits(*_: object) -> None:
        raise Waiting

    monkeypatch.setattr(keep_rates, "fair_rates", waits)
    assert "Look again" in text_of(turn_to(desk, "/keep-rates", "")[0])
    monkeypatch.undo()
    for by in COMPARED:
        fair_rates(desk, by)
    laid = turn_to(desk, "/keep-rates", "")[0].children[-1]
    assert "Look again" not in text_of(laid)
    assert turn_to(desk, "/keep-rates", "")[0].children[-1] is laid
