from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from auditor.model.answers import Answer
from dashboards.jobs import Job, Standing
from dashboards.work import _answered, _confirmed, _started
from dashboards.writes import Answers

FIRST, LAST = dt.datetime(2026, 5, 2, 14, 20), dt.datetime(2026, 5, 2, 14, 41)
CONFIRM = {"kind": "confirm", "body": "one", "first": FIRST.isoformat(), "last": LAST.isoformat()}


@pytest.fixture
def told() -> list[Any]:
    return []


@pytest.fixture
def answers(told: list[Any]) -> Answers:
    return Answers(
        give=lambda *given: told.append(given) or "given",  # type: ignore[func-returns-value]
        confirm=lambda answer: told.append(answer) or "confirmed",  # type: ignore[func-returns-value]
        undo=lambda: "undone",
    )


def test_a_press_on_a_choice_answers_the_question_as_shown(answers: Answers, told: list[Any]) -> None:
    pressed = {"kind": "answer", "question": 2, "choice": 1, "first": FIRST.isoformat()}
    assert _answered(answers, pressed) == "given"
    assert told == [(2, 1, FIRST)]
    assert _answered(answers, {"kind": "answer-undo"}) == "undone"
    assert _answered(answers, None) == ""


@pytest.mark.parametrize(("adapter", "recorded"), [("m42-plain", "m42-plain"), (".", ""), (None, "")])
def test_a_run_is_confirmed_with_what_was_chosen(
    answers: Answers, told: list[Any], adapter: str | None, recorded: str
) -> None:
    assert _confirmed(answers, CONFIRM, "orla-50", adapter) == "confirmed"
    assert told == [Answer(FIRST, LAST, "one", "orla-50", recorded)]


def test_without_a_lens_nothing_is_confirmed(answers: Answers, told: list[Any]) -> None:
    assert "Name the lens first" in _confirmed(answers, CONFIRM, None, None)
    assert _confirmed(answers, {"kind": "confirm-undo"}, None, None) == "undone"
    assert _confirmed(answers, None, "orla-50", None) == ""
    assert told == []


def test_only_a_press_begins_the_job() -> None:
    begun: list[bool] = []
    job = Job(start=lambda first: begun.append(first) or Standing("reading"), standing=Standing)  # type: ignore[func-returns-value]
    assert _started(job, None).stage == "idle"
    assert _started(job, "job-watch").stage == "idle"
    assert _started(job, {"kind": "job-start", "what": "read"}).stage == "reading"
    _started(job, {"kind": "job-start", "what": "audit"})
    assert begun == [True, False]
