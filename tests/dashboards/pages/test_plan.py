from __future__ import annotations

from concurrent.futures import Future
from pathlib import Path

import pytest
from dash import no_update

from dashboards.app import looked_again, turn_to
from dashboards.desk import Desk
from dashboards.pages import plan
from dashboards.watched import workspace_desk
from dashboards.weighed import Waiting, thought, weighing
from tests.dashboards.desks import three_row_desk
from tests.dashboards.test_app import text_of


@pytest.fixture(scope="module")
def desk(sample_workspace: Path) -> Desk:
    laid = workspace_desk(sample_workspace)()
    found = weighing(laid)
    for without in (["orla-50"], ["orla-50", "veery-70-150"]):
        thought(laid, found, without)
    return laid


def told(desk: Desk, search: str = "") -> str:
    return text_of(turn_to(desk, "/plan", search)[0])


def test_each_lens_has_its_verdict_its_reasons_and_the_caution(desk: Desk) -> None:
    words = told(desk)
    for name in desk.names["lens"].values():
        assert name in words
    for each in ("Use differently", "Mend the setting first", "A rate is not proof", "Where the numbers come from"):
        assert each in words


def test_without_a_choice_the_what_if_says_how_to_choose(desk: Desk) -> None:
    assert "Press “Do without it”" in told(desk)
    assert "/plan?without=orla-50" in str(turn_to(desk, "/plan", "")[0])


def test_doing_without_says_what_goes_and_can_be_taken_back(desk: Desk) -> None:
    laid = turn_to(desk, "/plan", "?without=orla-50%2Bveery-70-150")[0]
    lost = int(thought(desk, weighing(desk), ["orla-50", "veery-70-150"])["lost"].sum())
    assert lost > 0
    assert f"{lost} of" in text_of(laid)
    assert text_of(laid).count("Take it back") == 2
    assert "without=orla-50%2Bveery-70-150%2Bhale-85" in str(laid)
    assert "/table/what-if.csv?without=orla-50%2Bveery-70-150" in str(laid)


def test_a_lens_that_is_not_owned_is_passed_over(desk: Desk) -> None:
    assert "Press “Do without it”" in told(desk, "?without=%3Cscript%3E")


def test_the_lenses_chosen_above_narrow_the_sheets(desk: Desk) -> None:
    assert "Orla" in told(desk, "?lens=orla-50")
    assert desk.names["lens"]["bruna-135"] not in [
        str(getattr(row.children[0], "children", "")) for row in _rows(desk, "?lens=orla-50")
    ]
    assert len(_rows(desk, "?lens=orla-50")) == 1


def _rows(desk: Desk, search: str) -> list[object]:
    laid = turn_to(desk, "/plan", search)[0]
    table = next(part for part in laid._traverse() if type(part).__name__ == "Table")
    return list(table.children[1].children)


def test_while_it_is_worked_out_the_page_says_so(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def waits(*_: object) -> None:
        raise Waiting

    monkeypatch.setattr(plan, "thought", waits)
    assert "Look again" in told(desk, "?without=orla-50")
    monkeypatch.setattr(plan, "weighing", waits)
    assert "Look again" in told(desk)


def test_a_page_that_waits_is_laid_anew_when_any_of_what_it_waits_for_is_there(desk: Desk) -> None:
    gate: Future[object] = Future()
    desk.worked_out["held back"] = gate
    assert looked_again(desk, ["held back"], "/plan", "") is no_update
    assert "Use differently" in text_of(looked_again(desk, ["held back", "plan"], "/plan", ""))
    gate.set_exception(ValueError("it failed, which is an answer too"))
    assert "Use differently" in text_of(looked_again(desk, ["held back"], "/plan", ""))
    assert "Use differently" in text_of(looked_again(desk, ["of a desk that is gone"], "/plan", ""))


def test_tables_alone_say_what_is_missing() -> None:
    assert "without a workspace" in told(three_row_desk())
