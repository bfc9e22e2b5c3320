from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from auditor.model.answers import Answer
from auditor.model.workspace import open_workspace
from auditor.pipeline.questioning import ask, asked_before
from dashboards.asked import answers_of, questions_of
from dashboards.writes import workspace_answers, workspace_log
from tests.dashboards.test_watched import KIT_TOML

ROW = {"start": "2026-05-02 14:20", "lens": "orla-50", "setting_mm": "50", "note": "=1+1, on the pier", "end": ""}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "kit.toml").write_text(KIT_TOML.format(name="Orla 50 mm f/1.4"))
    return tmp_path


def test_a_row_is_added_and_taken_back_byte_for_byte(folder: Path) -> None:
    before = b'note,start\r\n"two, words",2026-05-01 09:00\r\n'
    (folder / "log.csv").write_bytes(before)
    log = workspace_log(folder)
    assert "from 2026-05-02 14:20 on" in log.add(ROW)
    assert [row.note for row in open_workspace(folder).log.rows] == ["two, words", "=1+1, on the pier"]
    assert log.undo() == "The row was taken back."
    assert (folder / "log.csv").read_bytes() == before


def test_the_first_row_makes_the_file_and_undo_unmakes_it(folder: Path) -> None:
    log = workspace_log(folder)
    log.add(ROW)
    assert (folder / "log.csv").exists()
    log.undo()
    assert not (folder / "log.csv").exists()
    assert log.undo() == "There is nothing to take back."


def test_a_wrong_row_changes_nothing_and_says_everything_that_is_wrong(folder: Path) -> None:
    said = workspace_log(folder).add({"start": "yesterday", "lens": "orla-5", "setting_mm": "fifty"})
    for words in ("yesterday", "orla-50", "fifty"):
        assert words in said
    assert not (folder / "log.csv").exists()


def test_what_another_program_wrote_meanwhile_is_never_undone(folder: Path) -> None:
    log = workspace_log(folder)
    log.add(ROW)
    path = folder / "log.csv"
    path.write_text(path.read_text(encoding="utf-8") + "2026-05-03 10:00\n", encoding="utf-8")
    kept = path.read_bytes()
    assert "changed by something else" in log.undo()
    assert path.read_bytes() == kept


def test_two_tabs_add_to_the_same_file(folder: Path) -> None:
    one, other = workspace_log(folder), workspace_log(folder)
    one.add(ROW)
    other.add(ROW | {"start": "2026-05-02 15:00"})
    assert len(open_workspace(folder).log.rows) == 2


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


def test_an_answer_to_a_question_that_was_asked_anew_is_refused(asked: Path) -> None:
    question = asked_before(open_workspace(asked))[0]
    said = workspace_answers(asked).give(question.number, 1, question.first.replace(year=2020))
    assert "asked anew" in said
    assert not answers_of(open_workspace(asked))


def test_a_run_is_confirmed_or_named_otherwise(asked: Path) -> None:
    question = asked_before(open_workspace(asked))[0]
    answers = workspace_answers(asked)
    span = (question.first, question.last, question.body)
    wrong = answers.confirm(Answer(*span, "no-such-lens", ""))
    assert "no-such-lens" in wrong
    right = answers.confirm(Answer(*span, question.candidates[1].lens, question.candidates[1].adapter))
    assert question.candidates[1].lens in right


def test_nothing_asked_yet_is_no_question(folder: Path) -> None:
    assert questions_of(open_workspace(folder)) == ()
    assert "no questions were shown" in workspace_answers(folder).give(1, 1, dt.datetime(2026, 5, 2))
