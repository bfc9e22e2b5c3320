from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from auditor.model.workspace import open_workspace
from auditor.pipeline.questioning import ask, asked_before
from dashboards.asked import answers_of, questions_of
from dashboards.pages.questions import questions_shown
from dashboards.run_writes import frames_of_run
from dashboards.thumbnails import key_of
from dashboards.watched import workspace_desk
from dashboards.writes import workspace_answers
from tests.dashboards.test_watched import KIT_TOML


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "kit.toml").write_text(KIT_TOML.format(name="Orla 50 mm f/1.4"))
    return tmp_path


@pytest.fixture
def asked(own_workspace: Path) -> Path:
    ask(open_workspace(own_workspace), most=3)
    return own_workspace


def test_an_answer_is_recorded_for_the_run_that_was_shown_and_taken_back(asked: Path) -> None:
    question = asked_before(open_workspace(asked))[0]
    answers = workspace_answers(asked)
    said = answers.give(question.number, 1, question.first)
    assert said.startswith(f"Recorded for {question.frames} frames: {question.candidates[0].lens}")
    shown = questions_of(open_workspace(asked))
    assert [bool(one.answered) for one in shown] == [True, False, False]
    assert answers_of(open_workspace(asked))[0].lens == question.candidates[0].lens
    assert answers.undo().startswith("Taken back")
    assert not answers_of(open_workspace(asked))
    assert "no answer" in answers.undo()


def test_a_lens_that_the_kit_does_not_name_is_an_answer(asked: Path) -> None:
    question = asked_before(open_workspace(asked))[0]
    said = workspace_answers(asked).give(question.number, 0, question.first)
    assert said == (
        f"Recorded for {question.frames} frames: a lens that the kit does not name. It counts from the next audit."
    )
    assert questions_of(open_workspace(asked))[0].answered == "a lens that the kit does not name"
    laid = questions_shown(workspace_desk(asked)())
    assert str(laid).count("None of the kit's lenses") == 2  # one of the three is answered


def test_a_question_shows_frames_of_its_run(asked: Path) -> None:
    desk = workspace_desk(asked)()
    laid = str(questions_shown(desk))
    question = desk.questions[0]
    places = frames_of_run(desk, question.body, question.first, question.last)
    assert len(places) == question.frames
    for place in (int(places[0]), int(places[-1])):
        assert f"/picture/small/{key_of(desk, place)}.webp" in laid
    assert laid.count("/picture/small/") <= 3 * len(desk.questions)
    assert frames_of_run(desk, "no-such-body", question.first, question.last).size == 0


def test_an_answer_to_a_question_that_was_asked_anew_is_refused(asked: Path) -> None:
    question = asked_before(open_workspace(asked))[0]
    said = workspace_answers(asked).give(question.number, 1, question.first.replace(year=2020))
    assert "asked anew" in said
    assert not answers_of(open_workspace(asked))


def test_nothing_asked_yet_is_no_question(folder: Path) -> None:
    assert questions_of(open_workspace(folder)) == ()
    assert "no questions were shown" in workspace_answers(folder).give(1, 1, dt.datetime(2026, 5, 2))
