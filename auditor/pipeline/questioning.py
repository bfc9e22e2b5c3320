"""Ask what only the photographer knows, and take the answers."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict, dataclass, replace

from auditor.audit.clocks import ClockOffset, find_clock_offsets
from auditor.audit.evidence import add_evidence
from auditor.audit.questions import Candidate, Question, add_answers, find_questions
from auditor.audit.sequence.pairings import pair_frames
from auditor.audit.trips import add_trip
from auditor.errors import AnswersError
from auditor.model.answers import NOT_IN_KIT, Answer
from auditor.model.workspace import Workspace
from auditor.pipeline.answering import load_answers, record_answer, what_was_told
from auditor.pipeline.auditing import read_frames
from auditor.storage.atomic import write_text

__all__ = ["Asked", "answer_question", "answer_span", "ask", "asked_before", "names_of"]

_ASKED_FILE = "questions.json"


@dataclass(frozen=True)
class Asked:
    """Questions, and what stands around them: clocks that seem wrong, answers that could not be used."""

    questions: tuple[Question, ...]
    clocks: tuple[ClockOffset, ...]
    problems: tuple[str, ...]
    doubtful: float
    frames: int


def ask(workspace: Workspace, *, most: int = 10) -> Asked:
    """
    Infer all pairings anew and return the questions that settle the most doubtful frames.

    The list is kept in the store, so that an answer by number means the question as it was shown.

    Raises
    ------
    WorkspaceError
        Nothing was indexed yet.
    """
    kit, log, settings = workspace.kit, workspace.log.rows, workspace.settings
    evidence = add_trip(add_evidence(read_frames(workspace), kit, log, settings), settings.trips)
    told = what_was_told(workspace)
    paired = pair_frames(add_answers(evidence, told.answers), kit, log, settings, overlaps=told.overlaps).frames
    questions = find_questions(paired, most=most)
    _keep(workspace, questions)
    doubtful = float((1 - paired.loc[paired["lens"].notna(), "pairing_confidence"]).sum())
    clocks = find_clock_offsets(paired, kit, log)
    return Asked(questions, clocks, load_answers(workspace)[1], doubtful, len(paired))


def _keep(workspace: Workspace, questions: tuple[Question, ...]) -> None:
    workspace.store.mkdir(parents=True, exist_ok=True)
    kept = [{**asdict(question), "paths": []} for question in questions]
    write_text(workspace.store / _ASKED_FILE, json.dumps(kept, default=str, indent=1))


def asked_before(workspace: Workspace) -> tuple[Question, ...]:
    """
    Return the questions as they were shown last, without their frames.

    Raises
    ------
    AnswersError
        None were shown yet, or the list cannot be read.
    """
    path = workspace.store / _ASKED_FILE
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        return tuple(_question(values) for values in kept)
    except (OSError, ValueError, KeyError, TypeError):
        raise AnswersError("no questions were shown yet", [f"run: steadykeep questions {workspace.folder}"]) from None


def _question(values: dict[str, object]) -> Question:
    moments = {name: dt.datetime.fromisoformat(str(values[name])) for name in ("first", "last")}
    candidates = tuple(Candidate(**candidate) for candidate in values["candidates"])  # type: ignore[attr-defined]
    return Question(**{**values, **moments, "candidates": candidates, "paths": ()})  # type: ignore[arg-type]


def answer_question(workspace: Workspace, number: int, lens: str, adapter: str = "") -> tuple[Answer, int]:
    """
    Record the answer to a question that was shown.

    Parameters
    ----------
    workspace : Workspace
    number : int
        As shown by ``questions``.
    lens : str
        Id of the lens; or ``"1"``, ``"2"``, … for a candidate as shown, ``"0"`` for none that the kit names.
    adapter : str
        Ids of the adapters joined by ``+``; filled in where the lens fits in one way only.

    Returns
    -------
    tuple
        The answer as recorded, and how many frames it settles.

    Raises
    ------
    AnswersError
        There is no such question, or the pairing is not in the kit.
    """
    questions = {question.number: question for question in asked_before(workspace)}
    if number not in questions:
        known = ", ".join(str(known) for known in questions) or "none"
        raise AnswersError(f"there is no question {number}; those shown last are {known}, nothing was recorded")
    question = questions[number]
    if lens == "0":
        lens, adapter = NOT_IN_KIT, ""
    elif lens.isdecimal():
        if not 1 <= int(lens) <= len(question.candidates):
            raise AnswersError(
                f"question {number} has no choice {lens}, nothing was recorded",
                [
                    f"{place}: {one.lens} {one.adapter}".rstrip()
                    for place, one in enumerate(question.candidates, start=1)
                ],
            )
        chosen = question.candidates[int(lens) - 1]
        lens, adapter = chosen.lens, chosen.adapter
    answer = Answer(question.first, question.last, question.body, lens, adapter)
    return record_answer(workspace, answer), question.frames


def answer_span(workspace: Workspace, answer: Answer) -> tuple[Answer, int]:
    """
    Record what was on between two times that the photographer names.

    Returns
    -------
    tuple
        The answer as recorded, and how many indexed frames lie in it.

    Raises
    ------
    AnswersError
        No frame lies there, or the pairing is not in the kit.
    WorkspaceError
        Nothing was indexed yet.
    """
    evidence = add_evidence(read_frames(workspace), workspace.kit, workspace.log.rows, workspace.settings)
    count = int(add_answers(evidence, [answer])["confirmed_lens"].notna().sum())
    if not count:
        raise AnswersError(
            f'no frame of body "{answer.body}" was made between {answer.first} and {answer.last}, nothing was recorded'
        )
    return record_answer(workspace, replace(answer)), count


def names_of(workspace: Workspace) -> dict[str, str]:
    """Return the names of lenses and adapters by id."""
    kit = workspace.kit
    names = {lens.id: lens.name for lens in kit.lenses} | {adapter.id: adapter.name for adapter in kit.adapters}
    return {NOT_IN_KIT: "a lens that the kit does not name", **names}
