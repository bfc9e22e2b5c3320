from __future__ import annotations

import dataclasses
from pathlib import Path

import pandas as pd
import pytest

from dashboards.app import turn_to
from dashboards.desk import Desk
from dashboards.pages import keep_rates
from dashboards.watched import workspace_desk
from dashboards.weighed import COMPARED, Waiting, fair_rates
from dashboards.words import percent
from tests.dashboards.desks import season_desk, three_row_desk
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
    desk.laid.clear()  # a page with nothing to wait for is held
    told = text_of(turn_to(desk, "/keep-rates", "")[0])
    assert "Look again" in told
    assert "Body by body" in told


def test_tables_alone_have_raw_rates_and_say_why_no_fair_ones() -> None:
    told = text_of(turn_to(three_row_desk(), "/keep-rates", "")[0])
    assert "Nothing can be compared: these pages were opened over tables alone" in told


def test_sharp_stands_beside_kept_with_what_it_is_worth() -> None:
    laid = turn_to(season_desk(400, measured=True), "/keep-rates", "")[0]
    told = text_of(laid)
    for words in (
        "Blur told", "Sharp rate", "about one answer in twenty is wrong", "never measured",
        "Kept and sharp, lens by lens", "Kept, though soft", "A sharp frame may be dull",
    ):  # fmt: skip
        assert words in told
    assert "/table/kept-and-sharp.csv" in str(laid)


def test_where_nothing_was_measured_the_page_says_what_to_run() -> None:
    told = text_of(turn_to(season_desk(100), "/keep-rates", "")[0])
    assert "Run steadykeep measure" in told
    assert "Sharp rate" not in told
    assert "Kept and sharp, lens by lens" not in told


def test_where_everything_is_told_nothing_is_said_to_be_left_out() -> None:
    desk = season_desk(60, measured=True)
    sure = dataclasses.replace(desk, measures=pd.DataFrame({"blur_kind": pd.Categorical(["sharp"] * 60)}))
    assert "Sharp is what the pixels say of 60 frames. It is" in text_of(turn_to(sure, "/keep-rates", "")[0])
