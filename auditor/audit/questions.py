"""The fewest questions whose answers settle the most doubtful frames, and the answers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.model.answers import Answer
from auditor.wording import counted

__all__ = [
    "NOTHING_TOLD",
    "Candidate",
    "Question",
    "Told",
    "add_answers",
    "find_questions",
    "pairing_name",
    "question_sentence",
]

_MOST_CANDIDATES = 3
_WORTH_NAMING = 0.02
"""A pairing less likely than this is not offered by name."""

_SLACK_S = 0.5
"""Answers are noted to the second; frames of a burst have sub-seconds."""


@dataclass(frozen=True)
class Told:
    """What outranks inference or adds to it: confirmed answers, and the rows of ``store/overlaps``."""

    answers: tuple[Answer, ...] = ()
    overlaps: pd.DataFrame | None = None


NOTHING_TOLD = Told()


@dataclass(frozen=True)
class Candidate:
    """A pairing that may have been on, with its mean chance over the question's frames."""

    lens: str
    adapter: str
    chance: float


@dataclass(frozen=True)
class Question:
    """
    One stretch of frames in doubt.

    Attributes
    ----------
    number : int
        Counts from 1, the most rewarding first.
    trip, body : str
    first, last : datetime
        Corrected local time of its first and last frame.
    frames : int
        Frames that the answer settles.
    setting_mm : float
        What was typed, NaN where it does not show. [mm]
    doubtful : float
        Frames that are expected to be wrong without an answer.
    candidates : tuple of Candidate
        Most likely first.
    paths : tuple of (archive, path)
        The frames.
    """

    number: int
    trip: str
    body: str
    first: dt.datetime
    last: dt.datetime
    frames: int
    setting_mm: float
    doubtful: float
    candidates: tuple[Candidate, ...]
    paths: tuple[tuple[str, str], ...]


def add_answers(evidence: pd.DataFrame, answers: Sequence[Answer]) -> pd.DataFrame:
    """
    Add ``confirmed_lens`` and ``confirmed_adapter``; where two answers meet, the later one in the list holds.

    Parameters
    ----------
    evidence : DataFrame
        With ``body`` and ``at``.
    answers : sequence of Answer

    Returns
    -------
    DataFrame
        Same rows, same order; not known (null) where nothing was confirmed.
    """
    lens = np.full(len(evidence), None, dtype=object)
    adapter = np.full(len(evidence), None, dtype=object)
    at = evidence["at"].to_numpy("datetime64[us]")
    body = evidence["body"].to_numpy(object)
    slack = np.timedelta64(int(_SLACK_S * 1e6), "us")
    for answer in answers:
        within = (at >= np.datetime64(answer.first, "us") - slack) & (at <= np.datetime64(answer.last, "us") + slack)
        within &= body == answer.body
        lens[within], adapter[within] = answer.lens, answer.adapter
    return evidence.assign(
        confirmed_lens=pd.Series(lens, index=evidence.index, dtype="str"),
        confirmed_adapter=pd.Series(adapter, index=evidence.index, dtype="str"),
    )


def find_questions(frames: pd.DataFrame, *, most: int = 10, least_doubt: float = 0.5) -> tuple[Question, ...]:
    """
    Return the questions whose answers settle the most doubtful frames.

    Each is one stretch: frames of one body with one answer and one typed value in a row. They are ranked by the
    frames that are expected to be wrong in it.

    Parameters
    ----------
    frames : DataFrame
        Of :func:`auditor.audit.sequence.pairings.pair_frames`, in any order, with ``archive``, ``path``, ``trip``.
    most : int
        How many to return.
    least_doubt : float
        Fewest frames expected to be wrong for a stretch to be worth a question.
    """
    open_frames = frames.loc[frames["stretch"].notna() & frames["at"].notna()]
    open_frames = open_frames.loc[~open_frames["pairing_evidence"].fillna("").str.contains("contacts|confirmed")]
    if open_frames.empty:
        return ()
    doubt = (1 - open_frames["pairing_confidence"]).groupby(open_frames["stretch"]).sum()
    chosen = doubt.loc[doubt >= least_doubt].sort_values(ascending=False, kind="stable").head(most)
    stretches = open_frames.loc[open_frames["stretch"].isin(chosen.index)].groupby("stretch")
    return tuple(
        _question(number, stretches.get_group(name).sort_values("at", kind="stable"), float(amount))
        for number, (name, amount) in enumerate(chosen.items(), start=1)
    )


def _question(number: int, stretch: pd.DataFrame, doubtful: float) -> Question:
    first = stretch.iloc[0]
    return Question(
        number=number,
        trip=str(first["trip"]),
        body=str(first["body"]),
        first=stretch["at"].iloc[0].to_pydatetime(warn=False),
        last=stretch["at"].iloc[-1].to_pydatetime(warn=False),
        frames=len(stretch),
        setting_mm=float(first["setting_mm"]),
        doubtful=doubtful,
        candidates=_candidates(stretch),
        paths=tuple(zip(stretch["archive"], stretch["path"], strict=True)),
    )


def _candidates(stretch: pd.DataFrame) -> tuple[Candidate, ...]:
    chances: dict[tuple[str, str], float] = {}
    for prefix, chance in (("", "pairing_confidence"), ("rival_", "rival_confidence")):
        named = stretch.loc[stretch[f"{prefix}lens"].notna()]
        total = named.groupby([f"{prefix}lens", f"{prefix}adapter"], observed=True)[chance].sum()
        for pairing, amount in zip(total.index.tolist(), total.tolist(), strict=True):
            chances[pairing] = chances.get(pairing, 0.0) + amount / len(stretch)
    ranked = sorted(chances.items(), key=lambda entry: -entry[1])
    likely = [entry for entry in ranked if entry[1] >= _WORTH_NAMING] or ranked[:1]
    return tuple(Candidate(lens, adapter, chance) for (lens, adapter), chance in likely[:_MOST_CANDIDATES])


def question_sentence(question: Question, names: dict[str, str]) -> str:
    """
    Put a question in words.

    Parameters
    ----------
    question : Question
    names : dict
        Names of lenses and adapters by id, as the photographer calls them.

    Examples
    --------
    >>> moment = dt.datetime(2026, 5, 2, 14, 20)
    >>> candidates = (Candidate("orla-50", "", 0.6), Candidate("hale-85", "m42-reducer", 0.4))
    >>> question = Question(1, "t", "one", moment, moment.replace(minute=41), 38, 50.0, 15.2, candidates, ())
    >>> question_sentence(question, {"orla-50": "Orla 50", "hale-85": "Hale 85", "m42-reducer": "M42 reducer"})
    '2026-05-02 14:20–14:41, 38 frames, setting 50: was it Orla 50 or Hale 85 on M42 reducer?'
    """
    start, end = f"{question.first:%Y-%m-%d %H:%M}", f"{question.last:%H:%M}"
    if question.last.date() != question.first.date():
        end = f"{question.last:%Y-%m-%d %H:%M}"
    span = start if start.endswith(end) else f"{start}–{end}"
    count = counted(question.frames, "frame")
    setting = "" if np.isnan(question.setting_mm) else f", setting {question.setting_mm:g}"
    named = [pairing_name(candidate.lens, candidate.adapter, names) for candidate in question.candidates]
    ask = (
        f"was it {_either(named)}?" if len(named) > 1 else f"was it {named[0]}, or another?" if named else "which lens?"
    )
    return f"{span}, {count}{setting}: {ask}"


def pairing_name(lens: str, adapter: str, names: dict[str, str]) -> str:
    """Return a pairing as the photographer would say it."""
    through = " and ".join(names.get(part, part) for part in adapter.split("+") if part)
    return names.get(lens, lens) + (f" on {through}" if through else "")


def _either(named: list[str]) -> str:
    return ", ".join(named[:-1]) + " or " + named[-1]
