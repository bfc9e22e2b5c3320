from __future__ import annotations

from pathlib import Path

import pytest

from dashboards.app import turn_to
from dashboards.desk import Desk
from dashboards.pages import keep_rates
from dashboards.watched import workspace_desk
from dashboards.weighed import COMPARED, Waiting, fair_rates
from dashboards.words import percent
from tests.dashboards.desks import three_row_desk
from tests.dashboards.test_app import text_of


@pytest.fixture(scope="module")
def desk(sample_workspace: Path) -> Desk:
    laid = workspace_desk(sample_workspace)()
    for by in COMPARED:
        fair_rates(laid, by)
    return laid


def test_fair_rates_stand_beside_the_raw_ones_with_what_they_do_not_show(desk: Desk) -> None:
    told = text_of(turn_to(desk, "/keep-rates", "")[0])
    for words in ("Lens by lens, under the same conditions", "Same conditions", "Not in any record", "Left out"):
        assert words in told
    rates = fair_rates(desk, "lens")
    for _, row in rates[rates["points"].notna()].iterrows():
        assert f"{percent(row['fair'])} / {percent(row['others_fair'])}" in told
    assert "cannot be compared" in told


def test_each_can_be_taken(desk: Desk) -> None:
    laid = str(turn_to(desk, "/keep-rates", "")[0])
    assert all(f"/table/fair-by-{by}.csv" in laid for by in COMPARED)


def test_while_it_is_worked_out_the_raw_rates_are_there(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def waits(*_: object) -> None:
        raise Waiting

    monkeypatch.setattr(keep_rates, "fair_rates", waits)
    told = text_of(turn_to(desk, "/keep-rates", "")[0])
    assert "Look again" in told
    assert "Body by body" in told


def test_tables_alone_have_raw_rates_and_say_why_no_fair_ones() -> None:
    told = text_of(turn_to(three_row_desk(), "/keep-rates", "")[0])
    assert "Nothing can be compared: these pages were opened over tables alone" in told
