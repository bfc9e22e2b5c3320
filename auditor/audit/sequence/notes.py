"""What the log's rows say of each state, and how far their times are trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.audit.sequence.chain import Floats, Ints
from auditor.audit.sequence.states import State, States
from auditor.model.log import LogRow
from auditor.model.settings import Habits

__all__ = ["Notes", "note_density", "notes_of"]

_NEEDLESS = 0.06
"""Rows that note what is on already, such as for another subject: one in sixteen. Judgement."""

_STRAY = 0.02
"""Rows of a change that no frame shows. Judgement."""

_FAR_SHARE, _FAR_TIMES = 0.07, 8.0
"""One note in fourteen is late by eight times the usual error. Judgement."""

_JUST_BEFORE_S, _JUST_BEFORE_SHARE = 600.0, 0.7
"""A lens usually goes on shortly before its first frame, however long the pause. Judgement."""

_POSITION_NOTED_RIGHT = 0.9


@dataclass(frozen=True)
class Notes:
    """
    One body's log rows.

    Attributes
    ----------
    at_s : array, shape (rows,)
        Noted time, seconds since 1970; the middle of the minute where seconds were not noted. [s]
    kind : array of int, shape (rows,)
        Row of ``match`` and ``skip``.
    match, skip : array, shape (kinds + 1, states)
        Chance of the row's words when a change led to the state; weight of passing over it while the state is on.
        The last kind stands for no row.
    skip_start : array, shape (kinds + 1,)
        Weight of passing over it before the first frame.
    """

    at_s: Floats
    kind: Ints
    match: Floats
    skip: Floats
    skip_start: Floats


_Words = tuple[str | None, str | None, float | None]


def notes_of(log: Sequence[LogRow], states: States, habits: Habits) -> Notes:
    """
    Return what one body's rows say.

    Parameters
    ----------
    log : sequence of LogRow
        In order of start, of any body.
    states : States
    habits : Habits
        How often a row names another lens than was on.
    """
    rows = [row for row in log if row.body == states.body.id and _may_tell_a_change(row)]
    words: list[_Words] = [(row.lens, row.adapter, row.focal_mm) for row in rows]
    kinds = {word: place for place, word in enumerate(dict.fromkeys(words))}
    count = len(states.entries)
    match, skip = np.zeros((len(kinds) + 1, count)), np.ones((len(kinds) + 1, count))
    skip_start = np.ones(len(kinds) + 1)
    for word, place in kinds.items():
        match[place], stray = _match(word, states, habits.log_misnames)
        skip[place] = _NEEDLESS * match[place] + stray
        skip_start[place] = stray
    starts = np.array([row.start for row in rows], dtype="datetime64[us]").astype(np.int64) / 1e6
    to_the_minute = np.array([row.start.second == 0 for row in rows], dtype=bool)
    return Notes(
        starts + 30.0 * to_the_minute,
        np.array([kinds[word] for word in words], dtype=np.int64),
        match,
        skip,
        skip_start,
    )


def _may_tell_a_change(row: LogRow) -> bool:
    """Return False for a row that was plainly noted for something else: what the camera rested on, and no lens."""
    return row.lens is not None or row.adapter is not None or row.support is None


def _match(word: _Words, states: States, misnames: float) -> tuple[Floats, float]:
    """Chance of a row's words with each state on, and the weight of a row of a change that no frame shows."""
    lens, adapter, focal_mm = word
    pairings = len(states.pairings)
    if lens is None:
        # It says nothing of the lens: as likely a note of something else as of a change.
        return np.full(len(states.entries), 0.5 / pairings), 0.5 / pairings
    chance = np.full(len(states.entries), misnames / 2 / pairings)
    for place, state in enumerate(states.entries):
        if state.pairing is None or state.pairing.lens.id != lens:
            continue
        named = adapter is None or state.pairing.adapter_id == adapter
        chance[place] = (1 - misnames) if named else misnames / 2
    if focal_mm is not None:
        chance *= _positions(focal_mm, lens, states)
    return chance, _STRAY / pairings


def _positions(focal_mm: float, lens: str, states: States) -> Floats:
    """Chance of the noted zoom position, for each state of that lens; 1 for the others."""
    chance = np.ones(len(states.entries))
    for group in set(states.group.tolist()):
        own = [place for place in np.flatnonzero(states.group == group) if _is_of(states.entries[place], lens)]
        if len(own) < 2:
            continue
        away = [abs(np.log(focal_mm / states.entries[place].position_mm)) for place in own]
        chance[own] = (1 - _POSITION_NOTED_RIGHT) / (len(own) - 1)
        chance[own[int(np.argmin(away))]] = _POSITION_NOTED_RIGHT
    return chance


def _is_of(state: State, lens: str) -> bool:
    return state.pairing is not None and state.pairing.lens.id == lens


def note_density(at_s: Floats, begin_s: Floats, end_s: Floats, habits: Habits) -> Floats:
    """
    Density of a row's noted time, for a change somewhere within a pause.

    Parameters
    ----------
    at_s : array
        Noted time. [s]
    begin_s, end_s : array
        The pause in which the lens was changed, broadcast. [s]
    habits : Habits
        How late notes are and how far off.

    Returns
    -------
    array
        [1/s]
    """
    near_s = np.maximum(begin_s, end_s - _JUST_BEFORE_S)
    late = at_s - habits.log_late_s
    return np.asarray(
        _JUST_BEFORE_SHARE * _spread(late, near_s, end_s, habits.log_error_s)
        + (1 - _JUST_BEFORE_SHARE) * _spread(late, begin_s, end_s, habits.log_error_s)
    )


def _spread(at_s: Floats, begin_s: Floats, end_s: Floats, error_s: float) -> Floats:
    """Density of a time that is off by a two-sided error, or now and then a long delay, from any time in a pause."""
    long_s = np.maximum(end_s - begin_s, 1.0)
    usual = _below(at_s - end_s + long_s, error_s) - _below(at_s - end_s, error_s)
    far_s = error_s * _FAR_TIMES
    far = _within_delay(at_s - end_s + long_s, far_s) - _within_delay(at_s - end_s, far_s)
    return np.asarray(((1 - _FAR_SHARE) * usual + _FAR_SHARE * far) / long_s)


def _within_delay(x: Floats, scale: float) -> Floats:
    """Chance that an exponential delay is below x: who is far off notes late, not early."""
    return np.asarray(-np.expm1(-np.maximum(x, 0.0) / scale))


def _below(x: Floats, scale: float) -> Floats:
    """Chance that a two-sided exponential error is below x."""
    tail = 0.5 * np.exp(-np.abs(x) / scale)
    return np.where(x < 0, tail, 1 - tail)
