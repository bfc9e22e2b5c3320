"""The photographer's answers, one stretch of frames a row, as answers.csv keeps them."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.errors import AnswersError
from auditor.model.own_rows import reader_of

__all__ = ["ANSWERS_FILE", "ANSWER_COLUMNS", "NOT_IN_KIT", "Answer", "answers_text", "parse_answers"]

ANSWERS_FILE = "answers.csv"

ANSWER_COLUMNS = ("first", "last", "body", "lens", "adapter", "said_at")
"""Columns of answers.csv."""

NOT_IN_KIT = "not_in_kit"
"""In place of a lens: it was one that the kit does not name. No id of the kit can be that."""


@dataclass(frozen=True)
class Answer:
    """
    What the photographer confirmed: this pairing was on this body between two times, both included.

    ``adapter`` is empty where the lens sat on the body itself; ``lens`` is ``NOT_IN_KIT`` where the kit does not name
    it.
    """

    first: dt.datetime
    last: dt.datetime
    body: str
    lens: str
    adapter: str = ""
    said_at: dt.datetime | None = None

    @property
    def words(self) -> str:
        """Lens and adapter by their ids, as a person would write them."""
        if self.lens == NOT_IN_KIT:
            return "a lens that the kit does not name"
        return " + ".join(part for part in (self.lens, self.adapter) if part)


def answers_text(answers: Sequence[Answer]) -> str:
    r"""
    Write answers as the text of an answers.csv.

    Examples
    --------
    >>> moment = dt.datetime(2026, 5, 2, 14, 20)
    >>> text = answers_text([Answer(moment, moment.replace(minute=41), "one", "orla-50", "m42-plain")])
    >>> text.splitlines()[1]
    '2026-05-02 14:20:00,2026-05-02 14:41:00,one,orla-50,m42-plain,'
    >>> parse_answers(text)[0][0].adapter
    'm42-plain'
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(ANSWER_COLUMNS)
    for answer in answers:
        said_at = _moment_text(answer.said_at) if answer.said_at else ""
        first, last = _moment_text(answer.first), _moment_text(answer.last)
        writer.writerow([first, last, answer.body, answer.lens, answer.adapter, said_at])
    return out.getvalue()


def _moment_text(moment: dt.datetime) -> str:
    return moment.isoformat(sep=" ", timespec="milliseconds" if moment.microsecond else "seconds")


def parse_answers(text: str, source: str = "answers.csv") -> tuple[tuple[Answer, ...], tuple[str, ...]]:
    """
    Read the text of an answers.csv.

    Returns
    -------
    tuple
        The answers in their order, and a sentence with its line for each row that cannot be read and is left out.

    Raises
    ------
    AnswersError
        The first row does not name the columns.
    """
    reader = reader_of(text, ANSWER_COLUMNS, 4, source, AnswersError)
    answers, problems = [], []
    for row in reader:
        try:
            answers.append(_answer(row))
        except ValueError as reason:
            problems.append(f"{source} line {reader.line_num}: {reason}; the answer is left out")
    return tuple(answers), tuple(problems)


def _answer(row: dict[str, str]) -> Answer:
    first, last = (_moment(row, name) for name in ("first", "last"))
    if last < first:
        raise ValueError(f"last = {row['last']} is before first = {row['first']}")
    empty = [name for name in ("body", "lens") if not (row[name] or "").strip()]
    if empty:
        raise ValueError(f"{' and '.join(empty)} is empty")
    said_at = dt.datetime.fromisoformat(row["said_at"]) if row.get("said_at") else None
    return Answer(first, last, row["body"].strip(), row["lens"].strip(), (row.get("adapter") or "").strip(), said_at)


def _moment(row: dict[str, str], name: str) -> dt.datetime:
    try:
        return dt.datetime.fromisoformat(row[name] or "").replace(tzinfo=None)
    except ValueError:
        raise ValueError(f"{name} = {row[name]!r} is not a date and time, such as 2026-05-02 14:20:00") from None
