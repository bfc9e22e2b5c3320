"""What the program asks, and what was answered, in the words of the pages."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from auditor.audit.questions import pairing_name, question_sentence
from auditor.errors import SteadykeepError
from auditor.model.answers import Answer
from auditor.model.workspace import Workspace
from auditor.pipeline.answering import load_answers
from auditor.pipeline.questioning import asked_before, names_of

__all__ = ["Choice", "OpenQuestion", "answers_of", "questions_of"]


@dataclass(frozen=True)
class Choice:
    """One possible answer: its number in the question, its words, and how likely it is, 0-1."""

    number: int
    words: str
    chance: float


@dataclass(frozen=True)
class OpenQuestion:
    """A question as shown last; ``answered`` says what was answered to it, empty where nothing was."""

    number: int
    body: str
    first: dt.datetime
    last: dt.datetime
    frames: int
    sentence: str
    choices: tuple[Choice, ...]
    answered: str = ""


def questions_of(workspace: Workspace) -> tuple[OpenQuestion, ...]:
    """Return the questions as they were asked last; none where none were asked yet."""
    try:
        asked = asked_before(workspace)
    except SteadykeepError:
        return ()
    names = names_of(workspace)
    given = {(answer.body, answer.first, answer.last): answer for answer in answers_of(workspace)}
    return tuple(
        OpenQuestion(
            number=question.number,
            body=question.body,
            first=question.first,
            last=question.last,
            frames=question.frames,
            sentence=question_sentence(question, names),
            choices=tuple(
                Choice(number, pairing_name(one.lens, one.adapter, names), one.chance)
                for number, one in enumerate(question.candidates, start=1)
            ),
            answered=_said(given.get((question.body, question.first, question.last)), names),
        )
        for question in asked
    )


def _said(answer: Answer | None, names: dict[str, str]) -> str:
    return pairing_name(answer.lens, answer.adapter, names) if answer else ""


def answers_of(workspace: Workspace) -> tuple[Answer, ...]:
    """Return what was answered so far; nothing where answers.csv cannot be read, which the commands tell of."""
    try:
        return load_answers(workspace)[0]
    except SteadykeepError:
        return ()
