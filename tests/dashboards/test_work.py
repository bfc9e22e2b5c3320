from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from dashboards.jobs import Job, Standing
from dashboards.work import _answered, _started
from dashboards.writes import Answers

FIRST = dt.datetime(2026, 5, 2, 14, 20)


@pytest.fixture
def told() -> list[Any]:
    return []


@pytest.fixture
def answers(told: list[Any]) -> Answers:
    return Answers(
        give=lambda *given: told.append(given) or "given",  # type: ignore[func-returns-value]
        undo=lambda: "undone",
    )


def test_a_press_on_a_choice_answers_the_question_as_shown(answers: Answers, told: list[Any]) -> None:
    pressed = {"kind": "answer", "question": 2, "choice": 1, "first": FIRST.isoformat()}
    assert _answered(answers, pressed) == "given"
    assert told == [(2, 1, FIRST)]
    assert _answered(answers, {"kind": "answer-undo"}) == "undone"
    assert _answered(answers, None) == ""


def test_only_a_press_begins_the_job() -> None:
    begun: list[bool] = []
    job = Job(start=lambda first: begun.append(first) or Standing("reading"), standing=Standing)  # type: ignore[func-returns-value]
    assert _started(job, None).stage == "idle"
    assert _started(job, "job-watch").stage == "idle"
    assert _started(job, {"kind": "job-start", "what": "read"}).stage == "reading"
    _started(job, {"kind": "job-start", "what": "audit"})
    assert begun == [True, False]
