"""Frames of one body laid out as sequences of steps: a trip each, runs of identical evidence drawn together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.audit.sequence.chain import Floats, Ints
from auditor.audit.sequence.typed import Token

__all__ = ["SHORTEST_CHANGE_S", "Clue", "Timeline", "lay_out"]

SHORTEST_CHANGE_S = 8.0
"""Nobody changes a lens between two frames closer than this. Judgement."""


@dataclass(frozen=True)
class Clue:
    """What a frame shows by itself, the typed value aside."""

    contact_lens: str | None
    has_contacts: bool
    confirmed: int
    day: str | None


@dataclass(frozen=True)
class Timeline:
    """
    One body's frames in order of time, drawn together into steps.

    Attributes
    ----------
    order : array of int, shape (frames,)
        Places of the frames in the table that was given, in the order of the steps.
    step_of : array of int, shape (frames,)
        Step of each frame of ``order``.
    begin_s, end_s : array, shape (steps,)
        Time of a step's first and last frame; NaN where no time was recorded. [s since 1970]
    sequence : array of int, shape (steps,)
        Number of the sequence, counting up.
    clue, token : array of int, shape (steps,)
        Places in ``clues`` and ``tokens``; token -1 where the typed value does not show.
    before : array of int, shape (steps,)
        Token last seen on this body before the step, -1 for none.
    """

    order: Ints
    step_of: Ints
    begin_s: Floats
    end_s: Floats
    sequence: Ints
    clue: Ints
    token: Ints
    before: Ints
    clues: tuple[Clue, ...]
    tokens: tuple[Token, ...]

    @property
    def steps(self) -> int:
        """Number of steps."""
        return len(self.sequence)


def lay_out(evidence: pd.DataFrame) -> Timeline:
    """
    Draw one body's frames together into steps.

    A step ends where the evidence changes or a pause is long enough for a lens change. A frame without a time is a
    sequence of its own, together with those that show the same.

    Parameters
    ----------
    evidence : DataFrame
        Columns ``trip``, ``at`` (or ``steady_at``, which does not go back), ``contact_lens``, ``has_contacts``,
        ``listed_lens``, ``setting_mm``, ``confirmed`` (a number, -1 for none) and ``day`` (text that is the same while
        the same lenses were owned).
    """
    clue = _numbered(evidence, ["contact_lens", "has_contacts", "confirmed", "day"])
    token = _numbered(evidence, ["setting_mm", "listed_lens"])
    clues, tokens = _clues(evidence, clue), _tokens(evidence, token)
    shows = np.array([not np.isnan(one.setting_mm) for one in tokens], dtype=bool)
    at_s = _seconds(evidence["steady_at" if "steady_at" in evidence else "at"])
    timeless = np.isnan(at_s)
    trip = pd.factorize(evidence["trip"], use_na_sentinel=False)[0]
    code = clue * (len(tokens) + 1) + token
    # Timeless frames come last, those that show the same together.
    order = np.lexsort((np.where(timeless, code, 0), np.where(timeless, 0.0, at_s), timeless))
    first_of_trip = pd.Series(np.arange(len(order))).groupby(trip[order]).transform("min").to_numpy()
    order = order[np.lexsort((np.arange(len(order)), np.where(timeless[order], len(order), first_of_trip)))]
    return _drawn_together(order, at_s[order], trip[order], code[order], (clue, token, clues, tokens, shows))


def _drawn_together(
    order: Ints,
    at_s: Floats,
    trip: Ints,
    code: Ints,
    tables: tuple[Ints, Ints, tuple[Clue, ...], tuple[Token, ...], np.ndarray],
) -> Timeline:
    clue, token, clues, tokens, shows = tables
    timeless = np.isnan(at_s)
    begins_sequence = np.ones(len(order), dtype=bool)
    begins_sequence[1:] = np.where(
        timeless[1:], (code[1:] != code[:-1]) | ~timeless[:-1], (trip[1:] != trip[:-1]) | timeless[:-1]
    )
    begins = begins_sequence.copy()
    begins[1:] |= code[1:] != code[:-1]
    with np.errstate(invalid="ignore"):
        begins[1:] |= (at_s[1:] - at_s[:-1]) >= SHORTEST_CHANGE_S
    starts = np.flatnonzero(begins)
    ends = np.append(starts[1:], len(order)) - 1
    tokens_at = token[order][starts] if len(order) else np.empty(0, dtype=np.int64)
    tokens_at = np.where(shows[tokens_at], tokens_at, -1) if len(tokens) else tokens_at
    return Timeline(
        order=order,
        step_of=np.cumsum(begins) - 1,
        begin_s=at_s[starts],
        end_s=at_s[ends],
        sequence=(np.cumsum(begins_sequence) - 1)[starts],
        clue=clue[order][starts],
        token=tokens_at,
        before=_last_seen(tokens_at),
        clues=clues,
        tokens=tokens,
    )


def _numbered(evidence: pd.DataFrame, columns: list[str]) -> Ints:
    """Return the number of each row's combination of some columns."""
    return np.asarray(evidence.groupby(columns, dropna=False, sort=False).ngroup(), dtype=np.int64)


def _last_seen(token: Ints) -> Ints:
    """Return, for each step, the last token that showed before it, -1 for none: a body's memory outlasts a trip."""
    seen = np.where(token >= 0, np.arange(len(token)), -1)
    latest = np.maximum.accumulate(seen) if len(seen) else seen
    before = np.concatenate([[-1], latest[:-1]])[: len(token)]
    return np.where(before >= 0, token[before], -1)


def _seconds(at: pd.Series) -> Floats:
    moments = at.to_numpy("datetime64[us]")
    return np.where(np.isnat(moments), np.nan, moments.astype(np.int64) / 1e6)


def _clues(evidence: pd.DataFrame, number: Ints) -> tuple[Clue, ...]:
    first = evidence.loc[~pd.Series(number, index=evidence.index).duplicated()]
    return tuple(
        Clue(_text(lens), bool(contacts), int(confirmed), _text(day))
        for lens, contacts, confirmed, day in zip(
            first["contact_lens"], first["has_contacts"], first["confirmed"], first["day"], strict=True
        )
    )


def _tokens(evidence: pd.DataFrame, number: Ints) -> tuple[Token, ...]:
    first = evidence.loc[~pd.Series(number, index=evidence.index).duplicated()]
    return tuple(
        Token(float(setting), _text(lens))
        for setting, lens in zip(first["setting_mm"], first["listed_lens"], strict=True)
    )


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
