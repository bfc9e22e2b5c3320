from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from dashboards.app import create_app, turn_to
from dashboards.watched import workspace_desk
from tests.dashboards.desks import three_row_desk
from tests.dashboards.test_app import text_of


@pytest.fixture
def client(sample_workspace: Path) -> FlaskClient:
    return create_app(workspace_desk(sample_workspace)).server.test_client()


@pytest.mark.parametrize(("name", "size"), [("card-a4.html", "A4"), ("card-a5.html", "A5")])
def test_the_card_is_made_for_the_chosen_lenses(client: FlaskClient, name: str, size: str) -> None:
    whole, one = client.get(f"/paper/{name}"), client.get(f"/paper/{name}?lens=orla-50")
    assert whole.status_code == one.status_code == 200
    assert f"size: {size}" in one.text
    assert "Hale 85" in whole.text
    assert "Hale 85" not in one.text
    assert "<script" not in whole.text


def test_the_card_as_csv(client: FlaskClient) -> None:
    taken = client.get("/paper/card.csv?lens=orla-50")
    assert taken.mimetype == "text/csv"
    assert taken.text.count("\n") > 2


def test_the_report_of_a_trip(client: FlaskClient) -> None:
    report = client.get("/paper/trip.html?trip=Lantern+nights")
    assert report.status_code == 200
    assert "Lantern nights" in report.text
    unknown = client.get("/paper/trip.html?trip=Lantern+night")
    assert (unknown.status_code, unknown.mimetype) == (404, "text/plain")
    assert "did you mean" in unknown.text


@pytest.mark.parametrize("address", ["/paper/kit.toml", "/paper/../kit.toml", "/paper/card-a4.html?lens=no-such"])
def test_nothing_else_is_handed_out(client: FlaskClient, address: str) -> None:
    assert client.get(address).status_code == 404


def test_the_card_page_leads_to_the_papers(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    laid = turn_to(desk, "/card", "?lens=lumbry-25")[0]
    assert "No card can be made" in text_of(laid)
    laid = turn_to(desk, "/card", "?lens=orla-50&body=one")[0]
    assert "/paper/card-a5.html?lens=orla-50%2Bm42-plain%40one" in str(laid)
    assert "to be tested before a paid job" in text_of(laid)
    assert "without a workspace" in text_of(turn_to(three_row_desk(), "/card", "")[0])
    assert create_app(three_row_desk()).server.test_client().get("/paper/card.csv").status_code == 404


def test_the_card_page_says_what_the_printed_card_says(sample_workspace: Path, client: FlaskClient) -> None:
    desk = workspace_desk(sample_workspace)()
    laid = turn_to(desk, "/card", "?lens=orla-50&body=one")[0]
    words = text_of(laid)
    written = csv.DictReader(io.StringIO(client.get("/paper/card.csv?lens=orla-50@one").data.decode("utf-8-sig")))
    lines = [row for row in written if row["pairing"].endswith("@one")]
    assert len(lines) > 4
    for line in lines:
        assert f"{float(line['type_mm']):g}" in words
        assert f"± {float(line['half_stop_mm']):.1f}" in words
    assert "Black body" not in words
    assert "Slowest by hand" in words
    assert "Where the numbers come from" in words


def test_the_card_page_names_the_lenses_with_nothing_to_type_and_a_choice_that_fits_no_body(
    sample_workspace: Path,
) -> None:
    desk = workspace_desk(sample_workspace)()
    assert "Nothing to type, the lens tells the body: Lumbry Clear" in text_of(turn_to(desk, "/card", "")[0])
    only = text_of(turn_to(desk, "/card", "?lens=clear-25")[0])
    assert "Add it to the kit, with its adapter" in only
    assert "fits a chosen body" in text_of(turn_to(desk, "/card", "?body=no-such")[0])
