"""The pages that do something: the index and the shoot log."""

from __future__ import annotations

from pathlib import Path

from auditor.model.workspace import open_workspace
from auditor.pipeline.questioning import ask
from dashboards.app import create_app, turn_to
from dashboards.jobs import Standing
from dashboards.pages.index import standing_shown
from dashboards.runs import run_around
from dashboards.thumbnails import key_of
from dashboards.watched import workspace_desk
from dashboards.writes import workspace_answers
from tests.dashboards.desks import three_row_desk
from tests.dashboards.test_app import text_of


def test_the_index_names_archives_and_what_could_not_be_read(sample_workspace: Path) -> None:
    told = text_of(turn_to(workspace_desk(sample_workspace)(), "/index", "")[0])
    for words in ("main", "the file is empty", "Read new and changed frames", "Which files"):
        assert words in told


def test_the_log_shows_what_is_noted_and_what_of_it_is_wrong(sample_workspace: Path) -> None:
    told = text_of(turn_to(workspace_desk(sample_workspace)(), "/log", "")[0])
    for words in ("Add to the log", "Orla 50 mm f/1.4", "log.csv line", "is not a date and time"):
        assert words in told


def test_without_a_workspace_both_say_so() -> None:
    for path in ("/index", "/log"):
        assert "without a workspace" in text_of(turn_to(three_row_desk(), path, "")[0])
    assert not [key for key in create_app(three_row_desk()).callback_map if "job-standing" in key]


def test_a_running_job_is_watched_with_a_bar_and_a_finished_one_is_not() -> None:
    running, rest = standing_shown(Standing("reading", 5, 10))
    assert not rest
    assert "value=50.0" in str(running)
    done, rest = standing_shown(Standing("done", said="10 frames."))
    assert rest
    assert "10 frames. See what was shot" in text_of(done).replace("  ", " ")


def test_questions_have_a_button_a_choice_and_tell_what_was_answered(own_workspace: Path) -> None:
    asked = ask(open_workspace(own_workspace), most=2).questions
    now = workspace_desk(own_workspace)
    told = text_of(turn_to(now(), "/questions", "")[0])
    assert "Question 2" in told
    assert f"({asked[0].candidates[0].chance:.0%}".replace("%", " %") in told
    assert "questions that only you can answer" in text_of(turn_to(now(), "/", "")[0])
    workspace_answers(own_workspace).give(1, 1, asked[0].first)
    assert "Answered:" in text_of(turn_to(now(), "/questions", "")[0])


def test_nothing_asked_says_how_to_ask(own_workspace: Path) -> None:
    (own_workspace / "store" / "questions.json").unlink(missing_ok=True)
    assert "audit and ask below" in text_of(turn_to(workspace_desk(own_workspace)(), "/questions", "")[0])


def test_a_frame_asks_for_its_whole_run(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    place = int(desk.flagged[0])
    run = run_around(desk, place)
    assert run is not None
    assert run["first"] <= desk.frames["captured_at"].iloc[place] <= run["last"]
    told = text_of(turn_to(desk, "/frame", f"?at={key_of(desk, place)}")[0])
    assert f"It was this, for {run['frames']} frames" in told
