"""The photographer's answers, recorded by a press and taken back by another."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from auditor.errors import AnswersError, SteadykeepError
from auditor.model.answers import Answer
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.answering import take_back_answer
from auditor.pipeline.questioning import answer_question, asked_before
from dashboards.words import count_of

__all__ = ["Answers", "workspace_answers"]


@dataclass(frozen=True)
class Answers:
    """
    The answers of a workspace. Each callable says what came of it.

    Parameters
    ----------
    give : callable
        Given a question's number, a choice's number, and when the question's first frame was made, as shown.
    undo : callable
        Takes the last answer back.
    """

    give: Callable[[int, int, dt.datetime], str]
    undo: Callable[[], str]


def workspace_answers(folder: Path) -> Answers:
    """
    Return what records the photographer's answers in a workspace's answers.csv.

    Parameters
    ----------
    folder : Path
        The workspace.
    """
    lock = threading.Lock()

    def give(number: int, choice: int, first: dt.datetime) -> str:
        with lock:
            return _recorded(lambda: _answered_as_shown(open_workspace(folder), number, choice, first))

    def undo() -> str:
        with lock:
            return _taken_back(folder)

    return Answers(give=give, undo=undo)


def _answered_as_shown(workspace: Workspace, number: int, choice: int, first: dt.datetime) -> tuple[Answer, int]:
    """Record an answer, unless the questions are others by now than those on the page that was pressed."""
    if first not in {asked.first for asked in asked_before(workspace) if asked.number == number}:
        raise AnswersError("the questions were asked anew meanwhile, nothing was recorded; open this page again")
    return answer_question(workspace, number, str(choice))


def _recorded(record: Callable[[], tuple[Answer, int]]) -> str:
    try:
        answer, frames = record()
    except SteadykeepError as error:
        return str(error)
    return f"Recorded for {count_of(frames, 'frame')}: {answer.words}. It counts from the next audit."


def _taken_back(folder: Path) -> str:
    try:
        answer = take_back_answer(open_workspace(folder))
    except SteadykeepError as error:
        return str(error)
    return f"Taken back: {answer.words}, {answer.first:%Y-%m-%d %H:%M} to {answer.last:%H:%M}."
