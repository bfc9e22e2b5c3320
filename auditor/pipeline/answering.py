"""The photographer's answers: kept in answers.csv beside the log, and taken back."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pandas as pd

from auditor.audit.questions import Told
from auditor.errors import AnswersError, KitError
from auditor.model.answers import ANSWERS_FILE, NOT_IN_KIT, Answer, answers_text, parse_answers
from auditor.model.documents import read_text
from auditor.model.kit import Kit
from auditor.model.pairings import Pairing, kit_pairings, pairing_of
from auditor.model.workspace import Workspace
from auditor.storage.atomic import write_text
from auditor.storage.datasets import read_table

__all__ = ["load_answers", "record_answer", "take_back_answer", "what_was_told"]


def load_answers(workspace: Workspace) -> tuple[tuple[Answer, ...], tuple[str, ...]]:
    """
    Read a workspace's answers; none where there is no answers.csv.

    Returns
    -------
    tuple
        The answers that can be used, and a sentence for each that cannot.

    Raises
    ------
    AnswersError
        The file cannot be read at all.
    """
    path = workspace.folder / ANSWERS_FILE
    if not path.exists():
        return (), ()
    answers, problems = parse_answers(read_text(path, AnswersError))
    usable, unknown = [], []
    for answer in answers:
        wrong = _misfit(answer, workspace.kit)
        if wrong:
            unknown.append(f"{ANSWERS_FILE}: {answer.first:%Y-%m-%d %H:%M}: {wrong}; the answer is left out")
        else:
            usable.append(answer)
    return tuple(usable), (*problems, *unknown)


def _misfit(answer: Answer, kit: Kit) -> str:
    try:
        if answer.lens == NOT_IN_KIT:
            kit.body(answer.body)
        else:
            pairing_of(kit, answer.body, answer.lens, answer.adapter)
    except KitError as reason:
        return str(reason)
    return ""


def what_was_told(workspace: Workspace) -> Told:
    """
    Return what outranks inference in a workspace, or adds to it: answers, and focal ratios where they were measured.

    Raises
    ------
    AnswersError
        answers.csv cannot be read at all.
    """
    answers, _ = load_answers(workspace)
    measured = read_table(workspace.store, "overlaps")
    overlaps: pd.DataFrame | None = measured.to_pandas() if measured.num_rows else None
    return Told(answers, overlaps)


def record_answer(workspace: Workspace, answer: Answer) -> Answer:
    """
    Add an answer to answers.csv; it outranks everything from the next audit on.

    Parameters
    ----------
    workspace : Workspace
    answer : Answer
        An empty adapter is filled in where the lens fits the body in one way only.

    Returns
    -------
    Answer
        As recorded.

    Raises
    ------
    AnswersError
        The pairing is not in the kit, or several adapters would do; the file is not changed.
    """
    complete = _completed(answer, workspace.kit)
    path = workspace.folder / ANSWERS_FILE
    before = parse_answers(read_text(path, AnswersError)) if path.exists() else ((), ())
    if before[1]:
        raise AnswersError(f"{ANSWERS_FILE}: mend these rows first, nothing was recorded", before[1])
    said = replace(complete, said_at=dt.datetime.now().replace(microsecond=0))
    write_text(path, answers_text([*before[0], said]))
    return said


def _completed(answer: Answer, kit: Kit) -> Answer:
    try:
        kit.body(answer.body)
        if answer.lens == NOT_IN_KIT:
            return replace(answer, adapter="")
        kit.lens(answer.lens)
        ways = _ways(answer, kit)
        if not answer.adapter and len(ways) == 1:
            return replace(answer, adapter=ways[0].adapter_id)
        pairing_of(kit, answer.body, answer.lens, answer.adapter)
    except KitError as reason:
        choices = [f"{answer.lens} goes on through {way.adapter_id or 'no adapter'}" for way in _ways(answer, kit)]
        raise AnswersError(f"nothing was recorded: {reason.headline}", choices) from None
    return answer


def _ways(answer: Answer, kit: Kit) -> list[Pairing]:
    """Return the ways in which an answer's lens goes on its body."""
    return [p for p in kit_pairings(kit) if p.body.id == answer.body and p.lens.id == answer.lens]


def take_back_answer(workspace: Workspace) -> Answer:
    """
    Remove the answer that was recorded last and return it.

    Raises
    ------
    AnswersError
        There is none.
    """
    path = workspace.folder / ANSWERS_FILE
    answers, problems = parse_answers(read_text(path, AnswersError)) if path.exists() else ((), ())
    if problems:
        raise AnswersError(f"{ANSWERS_FILE}: mend these rows first, nothing was taken back", problems)
    if not answers:
        raise AnswersError("there is no answer to take back")
    write_text(path, answers_text(answers[:-1]))
    return answers[-1]
