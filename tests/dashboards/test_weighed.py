from __future__ import annotations

import io
import threading
from pathlib import Path

import pandas as pd
import pytest

from auditor.errors import SteadykeepError
from auditor.model.workspace import open_workspace
from auditor.pipeline.ledgers import comparisons_of
from auditor.pipeline.planning import plan_of
from dashboards import weighed
from dashboards.app import create_app
from dashboards.desk import Desk
from dashboards.downloads import WEIGHED
from dashboards.watched import workspace_desk
from tests.dashboards.desks import three_row_desk


@pytest.fixture(scope="module")
def desk(sample_workspace: Path) -> Desk:
    return workspace_desk(sample_workspace)()


def test_the_plan_is_that_of_the_workspace_in_the_kits_names(desk: Desk, sample_workspace: Path) -> None:
    found = weighed.weighing(desk)
    table = weighed.plan_table(desk, found)
    known = {one.lens: one for one in plan_of(open_workspace(sample_workspace)).lenses}
    assert dict(zip(table["key"], table["verdict"], strict=True)) == {key: one.verdict for key, one in known.items()}
    for _, row in table.iterrows():
        assert row["kept"] == known[row["key"]].evidence.usage.kept
        assert row["name"] == desk.names["lens"][row["key"]]


def test_what_calls_for_a_change_comes_first(desk: Desk) -> None:
    said = weighed.plan_table(desk, weighed.weighing(desk))["verdict"].tolist()
    assert said == sorted(said, key=["candidate to sell", "use differently", "keep", "too little to say"].index)
    assert len(set(said)) > 1


def test_sheets_speak_of_lenses_by_name(desk: Desk) -> None:
    for sheet in weighed.plan_sheets(desk, weighed.weighing(desk)):
        told = " ".join([*sheet.reasons, *sheet.explained])
        assert sheet.reasons
        assert not any(key in told for key in desk.names["lens"])


def test_without_any_lens_no_keeper_is_in_reach_and_without_none_all_are(desk: Desk) -> None:
    found = weighed.weighing(desk)
    every = weighed.thought(desk, found, [lens.id for lens in found.workspace.kit.lenses])
    none = weighed.thought(desk, found, [])
    assert every["after"].sum() == 0
    assert every["lost"].sum() == every["before"].sum() > 0
    assert none["lost"].sum() == 0
    assert none["keepers"].sum() == every["keepers"].sum()


def test_a_lens_that_is_not_in_the_kit_changes_nothing(desk: Desk) -> None:
    found = weighed.weighing(desk)
    pd.testing.assert_frame_equal(
        weighed.thought(desk, found, ["<script>", "orla-50"]), weighed.thought(desk, found, ["orla-50"])
    )


def test_it_is_worked_out_once_a_desk(desk: Desk) -> None:
    assert weighed.weighing(desk) is weighed.weighing(desk)


@pytest.mark.parametrize("by", weighed.COMPARED)
def test_fair_rates_stand_beside_the_raw_ones(desk: Desk, sample_workspace: Path, by: str) -> None:
    rates = weighed.fair_rates(desk, by)
    known = comparisons_of(open_workspace(sample_workspace), by)
    assert len(rates) == len(known) == len(weighed.fair_sentences(desk, by)) > 0
    for (_, row), one in zip(rates.iterrows(), known, strict=True):
        assert row["counted"] == pytest.approx(one.crude[0].rate, nan_ok=True)
        assert row["verdict"] == one.verdict
        if one.rates is not None:
            assert row["points"] == pytest.approx(100 * (row["fair"] - row["others_fair"]), abs=1e-6)
            assert row["low"] <= row["points"] <= row["high"]


def test_what_takes_longer_than_a_page_may_is_waited_for_elsewhere(
    sample_workspace: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate, asked = threading.Event(), []

    def slow(_workspace: object, by: str) -> list[object]:
        asked.append(by)
        gate.wait(10)
        return []

    monkeypatch.setattr(weighed, "comparisons_of", slow)
    desk = workspace_desk(sample_workspace)()
    for _ in range(2):
        with pytest.raises(weighed.Waiting):
            weighed.fair_rates(desk, "lens", 0.01)
    gate.set()
    assert weighed.fair_rates(desk, "lens").empty
    assert asked == ["lens"]


def test_what_goes_wrong_in_the_background_is_said_where_it_is_asked_for(
    sample_workspace: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_workspace: object) -> None:
        raise SteadykeepError("the store cannot be read")

    monkeypatch.setattr(weighed, "plan_of", broken)
    with pytest.raises(SteadykeepError, match="cannot be read"):
        weighed.weighing(workspace_desk(sample_workspace)())


def test_what_nobody_thought_of_is_said_as_such_and_not_a_page_that_fails(
    sample_workspace: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_workspace: object, _by: str) -> None:
        raise IndexError("index 0 is out of bounds")

    monkeypatch.setattr(weighed, "comparisons_of", broken)
    desk = workspace_desk(sample_workspace)()
    with pytest.raises(SteadykeepError, match="index 0 is out of bounds"):
        weighed.fair_rates(desk, "lens")


def test_tables_alone_cannot_be_weighed() -> None:
    with pytest.raises(SteadykeepError, match="without a workspace"):
        weighed.weighing(three_row_desk())


@pytest.mark.parametrize("name", sorted(WEIGHED.keys() - {"setting-test"}))  # made of a series: test_calibration
def test_everything_weighed_can_be_taken(desk: Desk, name: str) -> None:
    whole = create_app(desk).server.test_client().get(f"/table/{name}.csv?without=orla-50")
    assert len(pd.read_csv(io.StringIO(whole.text))) > 0
    alone = create_app(three_row_desk()).server.test_client().get(f"/table/{name}.csv")
    assert pd.read_csv(io.StringIO(alone.text)).empty


def test_the_what_if_is_taken_for_the_lenses_of_the_address(desk: Desk) -> None:
    answer = create_app(desk).server.test_client().get("/table/what-if.csv?without=orla-50%2Bveery-70-150")
    table = pd.read_csv(io.StringIO(answer.text))
    assert table["lost"].sum() > 0
    found = weighed.weighing(desk)
    assert table["lost"].sum() == weighed.thought(desk, found, ["orla-50", "veery-70-150"])["lost"].sum()
