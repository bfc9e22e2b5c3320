"""Questions, answers and reports on a workspace."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pyarrow as pa
import pytest

from auditor.cli.app import main
from auditor.errors import AnswersError
from auditor.model.answers import ANSWERS_FILE, NOT_IN_KIT, Answer
from auditor.model.tables import FRAMES
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.answering import load_answers
from auditor.pipeline.auditing import audit_workspace, joined_table
from auditor.pipeline.questioning import answer_question, answer_span, ask
from auditor.pipeline.tripping import list_trips, trip_report
from auditor.storage.datasets import replace_table
from tests.audit.sequence.archives import HEAD, shots
from tests.kits import KIT_TEXT, some_frames


@pytest.fixture
def workspace(tmp_path: Path) -> Workspace:
    """One trip: a noted lens, the setting forgotten at a noted change, then a value that fits nothing."""
    rows = shots("2026-05-02 10:00", 20, 85.0) + shots("2026-05-02 10:09", 30, 85.0)
    rows += [*shots("2026-05-02 11:30", 25, 47.0), {"path": "none.jpg", "problem": "the file is empty"}]
    (tmp_path / "kit.toml").write_text(KIT_TEXT, encoding="utf-8")
    log = "2026-05-02 09:59,,one,hale-85,m42-plain,,\n2026-05-02 10:08,2026-05-02 10:40,one,orla-50,m42-plain,,\n"
    (tmp_path / "log.csv").write_text(HEAD + log, encoding="utf-8")
    named = '[[trips.named]]\nname = "Quay <days>"\nfrom = 2026-05-01\nto = 2026-05-03\n'
    (tmp_path / "settings.toml").write_text(named, encoding="utf-8")
    opened = open_workspace(tmp_path)
    frames = pa.Table.from_pandas(some_frames(rows)[FRAMES.names], schema=FRAMES, preserve_index=False)
    replace_table(opened.store, "frames", frames)
    audit_workspace(opened)
    return opened


def test_an_answer_by_number_is_used_by_the_next_audit_and_taken_back(workspace: Workspace) -> None:
    asked = ask(workspace)
    assert asked.questions[0].setting_mm == 47.0
    assert asked.questions[0].frames == 25
    said, frames = answer_question(workspace, 1, "hale-85", "m42-reducer")
    assert (said.lens, frames) == ("hale-85", 25)
    assert (workspace.folder / ANSWERS_FILE).read_text(encoding="utf-8").startswith("first,last,body,lens,adapter")
    audit_workspace(workspace)
    told = joined_table(workspace)
    told = told[told["setting_mm"] == 47.0]
    assert set(told["lens"]) == {"hale-85"}
    assert set(told["adapter"]) == {"m42-reducer"}
    assert told["pairing_evidence"].str.contains("confirmed").all()
    assert 47.0 not in {question.setting_mm for question in ask(workspace).questions}
    assert main(["answer", str(workspace.folder), "--undo"]) == 0
    assert load_answers(workspace) == ((), ())


def test_a_choice_may_be_named_by_its_number(workspace: Workspace) -> None:
    first = ask(workspace).questions[0].candidates[0]
    said, _ = answer_question(workspace, 1, "1")
    assert (said.lens, said.adapter) == (first.lens, first.adapter)


def test_a_lens_that_the_kit_does_not_name_is_an_answer(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    ask(workspace)
    assert main(["answer", str(workspace.folder), "--question", "1", "--lens", "0"]) == 0
    assert "Recorded for 25 frames: 2026-05-02 11:30 to 11:38, a lens that the kit does not" in capsys.readouterr().out
    assert load_answers(workspace)[0][0].lens == NOT_IN_KIT
    audit_workspace(workspace)
    told = joined_table(workspace)
    told = told[told["setting_mm"] == 47.0]
    assert told["lens"].isna().all()
    assert (told["pairing_evidence"] == "confirmed").all()
    assert (told["setting_verdict"] == "unknown").all()
    assert not told["flags"].map(lambda flags: "pairing-unknown" in flags).any()  # it needs no second look
    assert 47.0 not in {question.setting_mm for question in ask(workspace).questions}


def test_a_lens_that_the_kit_does_not_name_still_needs_a_body_of_it(workspace: Workspace) -> None:
    moment = dt.datetime(2026, 5, 2, 11)
    with pytest.raises(AnswersError, match="no frame of body"):
        answer_span(workspace, Answer(moment, moment.replace(hour=12), "three", NOT_IN_KIT))
    text = f"first,last,body,lens,adapter,said_at\n2026-05-02 11:00,2026-05-02 12:00,three,{NOT_IN_KIT},,\n"
    (workspace.folder / ANSWERS_FILE).write_text(text, encoding="utf-8")
    assert "three" in load_answers(workspace)[1][0]


@pytest.mark.parametrize(
    ("number", "lens", "adapter", "why"),
    [
        (99, "orla-50", "m42-plain", "no question 99"),
        (1, "orla-55", "m42-plain", "orla-55"),
        (1, "orla-50", "", "without an adapter"),
        (1, "9", "", "no choice 9"),
    ],
)
def test_an_answer_that_cannot_be_is_refused_and_nothing_recorded(
    workspace: Workspace, number: int, lens: str, adapter: str, why: str
) -> None:
    ask(workspace)
    with pytest.raises(AnswersError, match=why):
        answer_question(workspace, number, lens, adapter)
    assert not (workspace.folder / ANSWERS_FILE).exists()


def test_a_number_means_nothing_before_questions_were_shown(workspace: Workspace) -> None:
    with pytest.raises(AnswersError, match="no questions were shown"):
        answer_question(workspace, 1, "orla-50")


def test_an_answer_of_another_kit_is_told_and_left_out(workspace: Workspace) -> None:
    text = "first,last,body,lens,adapter,said_at\n2026-05-02 11:00,2026-05-02 12:00,one,sold-35,,\n"
    (workspace.folder / ANSWERS_FILE).write_text(text, encoding="utf-8")
    answers, problems = load_answers(workspace)
    assert answers == ()
    assert "sold-35" in problems[0]
    assert ask(workspace).problems == problems


def _json(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    assert main([*words, "--json"]) == 0
    loaded = json.loads(capsys.readouterr().out)
    assert isinstance(loaded, dict)
    return loaded


def test_the_commands_ask_record_and_take_back(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(workspace.folder)
    asked = _json(capsys, "questions", folder)
    assert asked["frames"] == 76
    assert main(["questions", folder]) == 0
    said = capsys.readouterr().out
    assert said.startswith("1. 2026-05-02 11:30–11:38, 25 frames, setting 47: was it")
    during = "2026-05-02T11:30/2026-05-02T11:40"
    words = ["answer", folder, "--body", "one", "--during", during, "--lens", "vesper-25"]
    recorded = _json(capsys, *words)
    assert recorded["frames"] == 25
    assert _json(capsys, "answer", folder, "--undo")["taken_back"] == recorded["recorded"]
    assert main(["answer", folder, "--undo"]) == 1
    assert "no answer to take back" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ([], "which lens was it"),
        (["--lens", "vesper-25"], "which frames"),
        (["--lens", "vesper-25", "--body", "one", "--during", "noon"], "not two times"),
        (["--lens", "vesper-25", "--body", "one", "--during", "2026-05-02T12:00/2026-05-02T11:00"], "before the first"),
        (["--lens", "vesper-25", "--body", "one", "--during", "2026-05-07T11:00/2026-05-07T12:00"], "no frame of body"),
    ],
)
def test_a_command_that_says_too_little_is_told_what_to_say(
    workspace: Workspace, capsys: pytest.CaptureFixture[str], words: list[str], why: str
) -> None:
    assert main(["answer", str(workspace.folder), *words]) == 1
    assert why in capsys.readouterr().err
    assert not (workspace.folder / ANSWERS_FILE).exists()


def test_trips_are_listed_with_what_went_wrong(workspace: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    (trip,) = list_trips(workspace)
    assert (trip.name, trip.frames) == ("Quay <days>", 75)
    assert trip.wrong >= 30
    listed = _json(capsys, "trips", str(workspace.folder))["trips"]
    assert isinstance(listed, list)
    assert listed[0]["frames"] == 75
    assert main(["trips", str(workspace.folder)]) == 0
    assert "Quay <days>" in capsys.readouterr().out


def test_the_report_says_what_was_forgotten_and_what_it_cost(workspace: Workspace) -> None:
    report = trip_report(workspace, "Quay <days>")
    (carried,) = [stretch for stretch in report.stretches if stretch.setting_mm == 85.0]
    assert (carried.frames, carried.right_mm, carried.pairing) == (30, 50.0, "Orla 50 mm f/1.4")
    assert carried.sharp_if_right > carried.sharp_as_shot
    assert report.sharp_lost >= carried.sharp_if_right - carried.sharp_as_shot - 1e-9
    assert any("before the first frame" in line for line in report.advice)
    assert sum(use.frames for use in report.uses) + report.unknown == report.frames == 75
    assert sum(segment.frames for segment in report.segments) == 75


def test_the_report_is_one_page_that_needs_nothing_else(
    workspace: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "report.html"
    written = _json(capsys, "trips", "Quay <days>", str(workspace.folder), "--report", str(page))
    assert written["frames"] == 75
    text = page.read_text(encoding="utf-8")
    assert "Quay &lt;days&gt;" in text
    assert "<days>" not in text
    for reach in ("http:", "https:", "<script", "src=", "@import"):
        assert reach not in text
    before = page.read_bytes()
    assert main(["trips", str(workspace.folder), "Quay <days>", "--report", str(page)]) == 0
    assert page.read_bytes() == before


def test_a_trip_that_is_not_there_and_a_file_that_cannot_be_written(
    workspace: Workspace, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = str(workspace.folder)
    assert main(["trips", "Quay days", folder, "--report", "x.html"]) == 1
    assert "did you mean" in capsys.readouterr().err
    assert main(["trips", "Quay <days>", folder, "--report", f"{folder}/none/x.html"]) == 1
    assert "cannot be written" in capsys.readouterr().err
