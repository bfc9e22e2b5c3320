"""One body's steps, tables and log rows put together into batches for the chain."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from auditor.audit.sequence.chain import OFFSETS, REACH, Batch, Floats, Ints
from auditor.audit.sequence.notes import Notes, note_density, notes_of
from auditor.audit.sequence.states import States
from auditor.audit.sequence.timeline import SHORTEST_CHANGE_S, Timeline
from auditor.audit.sequence.typed import TypedValues
from auditor.model.log import LogRow
from auditor.model.settings import Habits

__all__ = ["BodySequences", "Laid", "batches", "change_odds", "sequence_rows"]

_CHANGE_SPREAD = 0.5
"""Spread of the time a lens change takes, as a standard deviation of its logarithm. Judgement."""

_LONG_PAUSE_S, _LONG_PAUSE_ODDS = 7200.0, 0.6
"""After hours the chance of a change comes near this, whatever it is for short pauses. Judgement."""

_BEFORE_FIRST_S = 7200.0
"""The first lens of a trip went on within this before its first frame. Judgement."""

_ROW_AHEAD_S, _ROW_BEHIND_S = 12 * 3600.0, 3600.0
"""A row belongs to a trip when it was noted at most so long before its first frame or after its last."""

_ACTIVE_PAUSE_S = 3600.0

_STATES_AT_ONCE = 8_000_000
"""Numbers held for one batch and one pass: 64 MB."""


@dataclass(frozen=True)
class BodySequences:
    """
    Everything the model knows of one body, but the habits that are learnt.

    ``free``: rows of the chance that each state's lens is on no other body, and the row of each step; None for all.
    """

    states: States
    timeline: Timeline
    notes: Notes
    typed: TypedValues
    emit: Floats
    links: Mapping[int, Floats]
    rows: tuple[LogRow, ...]
    free: tuple[Floats, Ints] | None = None

    def with_habits(self, habits: Habits) -> BodySequences:
        """Return the same with tables made anew for other habits."""
        typed = self.typed.with_habits(self.states, habits)
        return replace(self, typed=typed, notes=notes_of(self.rows, self.states, habits))


@dataclass(frozen=True)
class Laid:
    """
    A batch, with where its steps come from.

    Attributes
    ----------
    batch : Batch
    sequence : array of int, shape (sequences,)
    step : array of int, shape (sequences, steps)
        Step of the timeline; padding repeats a sequence's last step.
    begin_s, end_s : array, shape (sequences, steps)
        The pause before each step. [s]
    row_s : array, shape (sequences, steps, offsets)
        Noted time of the row that is next at each offset; NaN for none. [s]
    """

    batch: Batch
    sequence: Ints
    step: Ints
    begin_s: Floats
    end_s: Floats
    row_s: Floats

    @property
    def real(self) -> np.ndarray:
        """What is not padding, shape (sequences, steps)."""
        return np.asarray(self.batch.length[:, None] > np.arange(self.step.shape[1]))


def change_odds(pause_s: Floats, habits: Habits) -> Floats:
    """
    Chance that a lens change lies in a pause.

    Parameters
    ----------
    pause_s : array
        Time between two frames. [s]
    habits : Habits
        How long a change takes and how often a long enough pause has one.

    Examples
    --------
    >>> change_odds(np.array([1.0, 45.0, 600.0]), Habits()).round(3).tolist()
    [0.0, 0.052, 0.14]
    """
    pause_s = np.maximum(pause_s, 1e-3)
    long_enough = ndtr(np.log(pause_s / habits.lens_change_s) / _CHANGE_SPREAD)
    more = max(_LONG_PAUSE_ODDS - habits.changes_a_pause, 0.0)
    chance = long_enough * (habits.changes_a_pause - more * np.expm1(-pause_s / _LONG_PAUSE_S))
    # Never quite nothing, so that a confirmed answer inside a burst is believed.
    return np.clip(np.where(pause_s < SHORTEST_CHANGE_S, 0.0, chance), 1e-9, 1 - 1e-9)


def sequence_rows(timeline: Timeline, notes: Notes) -> Ints:
    """
    Return the sequence to which each log row belongs, -1 for none.

    A row noted between two trips belongs to the nearer, if near enough.
    """
    timed = ~np.isnan(timeline.begin_s)
    owner = np.full(len(notes.at_s), -1, dtype=np.int64)
    if not timed.any():
        return owner
    numbers = np.unique(timeline.sequence[timed])
    first = np.array([timeline.begin_s[np.searchsorted(timeline.sequence, n)] for n in numbers])
    last = np.array([timeline.end_s[np.searchsorted(timeline.sequence, n, side="right") - 1] for n in numbers])
    away = np.maximum(np.maximum(first[None, :] - notes.at_s[:, None], notes.at_s[:, None] - last[None, :]), 0.0)
    ahead = first[None, :] - notes.at_s[:, None]
    allowed = np.where(ahead > 0, ahead <= _ROW_AHEAD_S, notes.at_s[:, None] - last[None, :] <= _ROW_BEHIND_S)
    away = np.where(allowed, away, np.inf)
    best = away.argmin(axis=1)
    near = np.isfinite(away[np.arange(len(best)), best])
    owner[near] = numbers[best[near]]
    return owner


def batches(
    body: BodySequences, habits: Habits, popularity: Floats, coverage: Floats, *, only: Ints | None = None
) -> Iterator[Laid]:
    """
    Lay a body's sequences out in batches of about the same length, so that little is padding.

    Parameters
    ----------
    body : BodySequences
    habits : Habits
    popularity : array, shape (pairings,)
        Not used for the tables, only to know their size.
    coverage : array, shape (sequences,)
        Share of lens changes that were noted, in each sequence.
    only : array of int, optional
        Sequences wanted; all where left out.
    """
    timeline = body.timeline
    starts = np.flatnonzero(np.diff(timeline.sequence, prepend=-1))
    lengths = np.diff(np.append(starts, timeline.steps))
    owner = sequence_rows(timeline, body.notes)
    has_rows = np.isin(np.arange(len(starts)), owner)
    kinds = _kind_tables(body, habits)
    wanted = np.arange(len(starts)) if only is None else only
    for with_rows in (True, False):
        chosen = wanted[has_rows[wanted] == with_rows]
        chosen = chosen[np.argsort(lengths[chosen], kind="stable")]
        width = OFFSETS if with_rows else 1
        for some in _portions(chosen, lengths, width * len(popularity)):
            yield _laid(body, habits, (some, starts[some], lengths[some]), (owner, coverage[some], kinds))


def _portions(chosen: Ints, lengths: Ints, size: int) -> Iterator[Ints]:
    """Cut sequences, sorted by length, into portions that fit in memory together."""
    begin = 0
    for place in range(1, len(chosen) + 1):
        full = place < len(chosen) and (place + 1 - begin) * lengths[chosen[place]] * size > _STATES_AT_ONCE
        if place == len(chosen) or full:
            yield chosen[begin:place]
            begin = place


_Kinds = tuple[Floats, Floats, Floats, Floats, Ints]


def _kind_tables(body: BodySequences, habits: Habits) -> _Kinds:
    """Tables over the distinct pairs of typed value before and now; see Batch."""
    timeline, typed = body.timeline, body.typed
    pairs, kind_of = np.unique(np.stack([timeline.before, timeline.token], axis=1), axis=0, return_inverse=True)
    states = len(body.states.entries)
    stay, change = np.ones((len(pairs), states)), np.ones((len(pairs), states))
    carried, kept = np.zeros((len(pairs), states)), np.ones(len(pairs))
    chance = typed.chance
    manual = body.states.share * (1 - body.states.contacts)
    manual /= manual.sum()
    # Who turns a zoom has a reason to type anew.
    zooms = body.states.share < 1
    for row, (before, now) in enumerate(pairs):
        if now < 0:
            continue
        again_right = habits.retypes + habits.zoom_turns * zooms
        again = np.where(typed.fits[before], again_right, habits.mends) if before >= 0 else 1.0
        kept[row] = float(before == now)
        stay[row] = 1 - again if before == now else again * chance[now]
        carried[row] = habits.forgets if before == now else 0.0
        change[row] = carried[row] + (1 - habits.forgets) * chance[now]
        if before < 0:
            # What stood in the menu before the first frame was typed for some lens; for which, nothing can tell.
            change[row] += habits.forgets * float(chance[now] @ manual)
    return stay, change, carried, kept, kind_of.reshape(-1)


def _laid(
    body: BodySequences,
    habits: Habits,
    chosen: tuple[Ints, Ints, Ints],
    about: tuple[Ints, Floats, _Kinds],
) -> Laid:
    timeline = body.timeline
    numbers, starts, lengths = chosen
    owner, coverage, (stay, change, carried, kept, kind_of) = about
    step = starts[:, None] + np.minimum(np.arange(lengths.max()), lengths[:, None] - 1)
    end_s = timeline.begin_s[step]
    begin_s = np.roll(timeline.end_s[step], 1, axis=1)
    begin_s[:, 0] = end_s[:, 0] - _BEFORE_FIRST_S
    rows = [np.flatnonzero(owner == number) for number in numbers]
    gone, row_at, row_s = _row_tables(body.notes, rows, end_s)
    use = _use(habits, (begin_s, end_s, row_s), _row_rate(rows, begin_s, end_s, lengths), coverage)
    batch = Batch(
        length=lengths,
        emit=body.emit,
        emit_at=timeline.clue[step],
        stay=stay,
        change=change,
        carried=carried,
        kept=kept,
        kind_at=kind_of[step],
        # A frame without a time is a sequence of its own; its padding must not spoil the sums over a batch.
        odds=change_odds(np.nan_to_num(end_s - begin_s), habits),
        gone=gone,
        rows=np.array([len(row) for row in rows], dtype=np.int64),
        row_at=row_at,
        match=body.notes.match,
        skip=body.notes.skip,
        skip_start=body.notes.skip_start,
        use=use,
        unnoted=1 - coverage,
        links=_links(body, starts, lengths),
        free=None if body.free is None else body.free[0][body.free[1][step]],
    )
    return Laid(batch, numbers, step, begin_s, end_s, row_s)


def _row_tables(notes: Notes, rows: list[Ints], at_s: Floats) -> tuple[Ints, Ints, Floats]:
    """Rows gone by before each step, kinds of all rows, and the noted time of the row next at each offset."""
    most = max((len(row) for row in rows), default=0)
    none = notes.match.shape[0] - 1
    row_at = np.full((len(rows), most + 1), none, dtype=np.int64)
    times = np.full((len(rows), most + 1), np.nan)
    gone = np.zeros(at_s.shape, dtype=np.int64)
    for place, row in enumerate(rows):
        row_at[place, : len(row)] = notes.kind[row]
        times[place, : len(row)] = notes.at_s[row]
        gone[place] = np.searchsorted(notes.at_s[row], at_s[place], side="right")
    width = OFFSETS if most else 1
    index = gone[:, :, None] + np.arange(width) - (REACH if most else 0)
    index = np.where((index < 0) | (index > most), most, index)
    return gone, row_at, np.take_along_axis(times[:, None, :], index, axis=2)


def _row_rate(rows: list[Ints], begin_s: Floats, end_s: Floats, lengths: Ints) -> Floats:
    """Rows per second of active time, shape (sequences,). [1/s]."""
    pauses = np.minimum(np.nan_to_num(end_s - begin_s), _ACTIVE_PAUSE_S)
    active = (pauses * (np.arange(end_s.shape[1]) < lengths[:, None])).sum(axis=1)
    return np.asarray(np.array([max(len(row), 1) for row in rows]) / np.maximum(active, 60.0))


def _use(habits: Habits, times: tuple[Floats, Floats, Floats], rate: Floats, coverage: Floats) -> Floats:
    """
    Weight of using the row that is next at each offset.

    Every row is used or passed over once, so that all may be measured against the sequence's own rate of rows.
    """
    begin_s, end_s, row_s = times
    if row_s.shape[2] == 1:
        return np.zeros(row_s.shape)
    density = note_density(row_s, begin_s[:, :, None], end_s[:, :, None], habits)
    return np.nan_to_num(density) * (coverage / rate)[:, None, None]


def _links(body: BodySequences, starts: Ints, lengths: Ints) -> dict[tuple[int, int], Floats]:
    links = {}
    for step, link in body.links.items():
        for place in np.flatnonzero((starts < step) & (step < starts + lengths)):
            links[int(place), int(step - starts[place])] = link
    return links
