"""Changes to the user's own files, each of which can be taken back as long as nothing else changed the file."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from auditor.errors import AnswersError, SteadykeepError
from auditor.model.answers import Answer
from auditor.model.workspace import LOG_FILE, Workspace, open_workspace
from auditor.pipeline.answering import take_back_answer
from auditor.pipeline.questioning import answer_question, answer_span, asked_before
from auditor.pipeline.shoot_log import add_log_row
from auditor.storage.atomic import write_text
from dashboards.words import count_of

__all__ = ["Answers", "Log", "workspace_answers", "workspace_log"]


@dataclass(frozen=True)
class Log:
    """
    The shoot log of a workspace.

    Parameters
    ----------
    add : callable
        Given a row's values, writes it and says what came of it.
    undo : callable
        Takes the last added row back, or says why not.
    """

    add: Callable[[Mapping[str, str]], str]
    undo: Callable[[], str]


def workspace_log(folder: Path) -> Log:
    """
    Return what adds to a workspace's log.csv and takes back.

    Parameters
    ----------
    folder : Path
        The workspace.
    """
    lock = threading.Lock()
    path = folder / LOG_FILE
    changes: list[tuple[str | None, str]] = []

    def add(values: Mapping[str, str]) -> str:
        with lock:
            before = _text(path)
            try:
                row = add_log_row(open_workspace(folder), {key: value for key, value in values.items() if value})
            except SteadykeepError as error:
                return str(error)
            changes.append((before, _text(path) or ""))
            return f"Added: from {row.start:%Y-%m-%d %H:%M} on. It counts from the next audit."

    def undo() -> str:
        with lock:
            if not changes:
                return "There is nothing to take back."
            before, after = changes[-1]
            if _text(path) != after:
                return "log.csv was changed by something else meanwhile, so the row was left; mend it there."
            changes.pop()
            if before is None:
                path.unlink()
            else:
                write_text(path, before)
            return "The row was taken back."

    return Log(add=add, undo=undo)


def _text(path: Path) -> str | None:
    try:
        return path.read_bytes().decode("utf-8", "surrogateescape")
    except FileNotFoundError:
        return None


@dataclass(frozen=True)
class Answers:
    """
    The answers of a workspace. Each callable says what came of it.

    Parameters
    ----------
    give : callable
        Given a question's number, a choice's number, and when the question's first frame was made, as shown.
    confirm : callable
        Given a body, two times, a lens and an adapter.
    undo : callable
        Takes the last answer back.
    """

    give: Callable[[int, int, dt.datetime], str]
    confirm: Callable[[Answer], str]
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

    def confirm(answer: Answer) -> str:
        with lock:
            return _recorded(lambda: answer_span(open_workspace(folder), answer))

    def undo() -> str:
        with lock:
            return _taken_back(folder)

    return Answers(give=give, confirm=confirm, undo=undo)


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
    named = " + ".join(part for part in (answer.lens, answer.adapter) if part)
    return f"Recorded for {count_of(frames, 'frame')}: {named}. It counts from the next audit."


def _taken_back(folder: Path) -> str:
    try:
        answer = take_back_answer(open_workspace(folder))
    except SteadykeepError as error:
        return str(error)
    return f"Taken back: {answer.lens}, {answer.first:%Y-%m-%d %H:%M} to {answer.last:%H:%M}."
