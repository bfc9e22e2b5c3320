"""How many answered questions it takes: the photographer remembers what was on, stretch by stretch."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from auditor.audit.questions import Question, find_questions
from auditor.model.answers import Answer
from tests.benchmarks.pairing.photographer import World
from tests.benchmarks.pairing.scoring import Marks, infer

AT_ONCE = 5
"""Questions answered between two audits, for each 1,000 frames."""


def answers_to(question: Question, marks: Marks) -> list[Answer]:
    """
    Answer truly. Where several lenses were on within one stretch, each part is an answer of its own, and counts.
    """
    table = marks.table.loc[(marks.table["body"] == question.body)]
    table = table.loc[table["at"].between(pd.Timestamp(question.first), pd.Timestamp(question.last))].sort_values("at")
    pairing = table["true_lens"] + "|" + table["true_adapter"]
    parts = table.groupby((pairing != pairing.shift()).cumsum())
    return [
        Answer(
            part["at"].iloc[0].to_pydatetime(warn=False), part["at"].iloc[-1].to_pydatetime(warn=False), question.body,
            part["true_lens"].iloc[0], part["true_adapter"].iloc[0],
        )
        for _, part in parts
    ]  # fmt: skip


def settled_by_questions(worlds: Iterator[World], coverage: float, *, rounds: int = 12) -> pd.DataFrame:
    """Mean share of frames right after each round, and the answers given for each 1,000 frames."""
    rows = []
    for world in worlds:
        given: list[Answer] = []
        thousands = len(world.frames) / 1000
        for number in range(rounds + 1):
            marks = infer(world, answers=given)
            rows.append(
                {
                    "log %": round(coverage * 100),
                    "round": number,
                    "answers per 1,000": len(given) / thousands,
                    "right": marks.accuracy,
                }
            )
            budget = round(AT_ONCE * thousands * (number + 1)) - len(given)
            for question in find_questions(marks.table, most=max(budget, 0), least_doubt=0.05):
                if budget <= 0:
                    break
                told = answers_to(question, marks)[:budget]
                given += told
                budget -= len(told)
    return pd.DataFrame(rows).groupby(["log %", "round"], as_index=False).mean()
