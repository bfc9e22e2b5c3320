"""
Exact inference over sequences in which something stays, or changes to anything else.

Pure numbers: states, steps, and a written list of events (the log's rows) of which each change uses up at most one.

The hidden state of a step is a state ``s`` (what is mounted, and where its zoom stands) and an offset ``o`` between
-2 and +2: how many rows of the list have been used up, less how many have gone by. Between two steps either nothing
changes, or a change leads to any state of another group. A change may use the next row (early or late by at most two
rows), may pass over rows at a price, or may have no row. Because a change leads to *any* other state, its cost needs
only sums over the states (for the best path: the best two), so that a step costs as many operations as there are
states, not their square.

Several sequences are worked on side by side, padded to one length: the loop is over steps, the arithmetic over
sequences, offsets and states.

References
----------
.. [1] L. R. Rabiner, A tutorial on hidden Markov models, Proc. IEEE 77 (1989) 257-286: forward-backward with scaling,
   and the best path (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["OFFSETS", "REACH", "Batch", "Layout", "Stepper"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

REACH = 2
OFFSETS = 2 * REACH + 1
"""Offsets -2 … +2, stored as 0 … 4. Where there is no list at all one column is enough."""


@dataclass(frozen=True, slots=True)
class Layout:
    """
    What is the same at every step.

    Parameters
    ----------
    popularity : array of float, shape (states,)
        Chance of each state when a change leads anywhere; sums to 1.
    group : array of int, shape (states,)
        States of one group differ only in zoom position: moving between them is no change.
    move : float
        Chance that the zoom is turned between two steps, to any position of its group alike. [-]
    """

    popularity: Floats
    group: Ints
    move: float = 0.0

    @property
    def states(self) -> int:
        """Number of states."""
        return len(self.popularity)

    def shared(self) -> tuple[Ints, Floats, Floats]:
        """Return the states that share a group, the matrix that sums over a group, and the one that turns the zoom."""
        sizes = np.bincount(self.group)
        members = np.flatnonzero(sizes[self.group] > 1)
        same = (self.group[members][:, None] == self.group[members][None, :]).astype(float)
        turned = same / sizes[self.group[members]][None, :]
        return members, same, (1 - self.move) * np.eye(len(members)) + self.move * turned

    def elsewhere(self) -> Floats:
        """Return, for each state, the chance mass of all states outside its group."""
        mass = np.bincount(self.group, weights=self.popularity)
        return np.maximum(1 - mass[self.group], 1e-9)


@dataclass(frozen=True, slots=True)
class Batch:
    """
    Sequences side by side. Tables hold each distinct row once; ``*_at`` says which row a step uses.

    Parameters
    ----------
    length : array of int, shape (sequences,)
        Steps of each sequence; what lies beyond is padding.
    emit, emit_at : array of float (kinds, states), array of int (sequences, steps)
        Likelihood of what a step shows.
    stay, change, carried : array of float, shape (kinds, states)
        Likelihood of the typed value if nothing changed; if a change led here; and the part of the latter in which the
        old value was left standing.
    kept : array of float, shape (kinds,)
        1 where the typed value is the one of the step before, else 0.
    kind_at : array of int, shape (sequences, steps)
        Row of ``stay``, ``change``, ``carried`` and ``kept``.
    odds : array of float, shape (sequences, steps)
        Chance of a change before each step. That before the first is not used: something is put on.
    gone : array of int, shape (sequences, steps)
        Rows of the list gone by before each step.
    rows : array of int, shape (sequences,)
        Rows of the list in all; the last may come after the last step.
    row_at : array of int, shape (sequences, rows + 1)
        Kind of each row; the last column is a kind that matches nothing.
    match, skip : array of float, shape (row kinds, states)
        Likelihood of a row's words when a change led to the state; price of passing over it while the state is on.
    skip_start : array of float, shape (row kinds,)
        Price of passing over it before the first step.
    use : array of float, shape (sequences, steps, offsets)
        Chance that a change at this step was noted, times the density of its noted time, for the row that is next at
        each offset.
    unnoted : array of float, shape (sequences,)
        Chance that a change has no row.
    links : dict of (sequence, step) to array of float, shape (states, states)
        Likelihood of a pair of states before and at a step, such as of a focal ratio measured between two frames.
    free : array of float, shape (sequences, steps, states), optional
        Chance that a state can be there at all, such as that its lens is not in use elsewhere; all where left out.
        Asked once a stay: when a change leads to the state, and later only for what has become less.
    """

    length: Ints
    emit: Floats
    emit_at: Ints
    stay: Floats
    change: Floats
    carried: Floats
    kept: Floats
    kind_at: Ints
    odds: Floats
    gone: Ints
    rows: Ints
    row_at: Ints
    match: Floats
    skip: Floats
    skip_start: Floats
    use: Floats
    unnoted: Floats
    links: dict[tuple[int, int], Floats]
    free: Floats | None = None

    @property
    def width(self) -> int:
        """Offsets in use: one where no sequence has a list, else all."""
        return int(self.use.shape[2])


class Stepper:
    """The pieces of one step that forward, backward and best path share."""

    def __init__(self, layout: Layout, batch: Batch) -> None:
        self.layout, self.batch = layout, batch
        self.members, self.same, self.turn = layout.shared()
        self.leave = 1.0 / layout.elsewhere()
        self.width = batch.width
        self.reach = (self.width - 1) // 2
        self.sequences = np.arange(len(batch.length))
        self.links: dict[int, list[int]] = {}
        for sequence, step in batch.links:
            self.links.setdefault(step, []).append(sequence)

    def stay(self, step: int) -> Floats:
        """Likelihood of what was typed where nothing changed, shape (sequences, states)."""
        batch = self.batch
        stay = batch.stay[batch.kind_at[:, step]]
        if batch.free is not None and step:
            stay = stay * np.minimum(batch.free[:, step] / batch.free[:, step - 1], 1.0)
        return np.asarray(stay)

    def change(self, step: int) -> Floats:
        """Likelihood of what was typed where a change led to each state, shape (sequences, states)."""
        return self._landing(self.batch.change, step)

    def carried(self, step: int) -> Floats:
        """Return the part of it in which the old value was left standing, shape (sequences, states)."""
        return self._landing(self.batch.carried, step)

    def _landing(self, table: Floats, step: int) -> Floats:
        batch = self.batch
        landing = table[batch.kind_at[:, step]]
        return np.asarray(landing if batch.free is None else landing * batch.free[:, step])

    def group_sum(self, mass: Floats) -> Floats:
        """Sum over each state's group, in place of the state's own mass."""
        if not len(self.members):
            return mass
        summed = mass.copy()
        summed[..., self.members] = mass[..., self.members] @ self.same
        return summed

    def turned(self, mass: Floats) -> Floats:
        """Let the zoom be turned. The matrix is symmetric, so it serves both directions."""
        if not len(self.members) or self.layout.move == 0:
            return mass
        moved = mass.copy()
        moved[..., self.members] = mass[..., self.members] @ self.turn
        return moved

    def others(self, mass: Floats) -> Floats:
        """Sum over all states outside each state's own group; rounding never makes it negative."""
        return np.asarray(np.maximum(mass.sum(axis=-1, keepdims=True) - self.group_sum(mass), 0.0))

    def row_kinds(self, step: int) -> Ints:
        """Kinds of the rows that are next at each offset, shape (sequences, offsets)."""
        index = self.batch.gone[:, step, None] + np.arange(-self.reach, self.width - self.reach)
        last = self.batch.row_at.shape[1] - 1
        index = np.where((index < 0) | (index > last), last, index)
        return np.asarray(self.batch.row_at[self.sequences[:, None], index])

    def shifts(self, step: int) -> Iterator[tuple[Ints, Ints]]:
        """Rows that go by before a step, one at a time: the sequences concerned, and the kind that falls off."""
        batch = self.batch
        before = batch.gone[:, step - 1] if step else np.zeros_like(batch.gone[:, 0])
        for turn in range(int((batch.gone[:, step] - before).max(initial=0))):
            chosen = np.flatnonzero(batch.gone[:, step] - before > turn)
            oldest = before[chosen] + turn - self.reach
            last = batch.row_at.shape[1] - 1
            yield chosen, batch.row_at[chosen, np.where(oldest < 0, last, oldest)]

    def uses_rows(self, step: int) -> bool:
        """Whether any row can be used at this step."""
        return self.width > 1 and bool(self.batch.use[:, step].any())

    def waiting(self, source: Floats, kinds: Ints) -> Floats:
        """Mass about to use the row at each offset, rows before it passed over at their price."""
        waiting = source.copy()
        for offset in range(1, self.width):
            waiting[:, offset] += waiting[:, offset - 1] * self.batch.skip[kinds[:, offset - 1]]
        return waiting

    def leftover(self) -> Floats:
        """Price of passing over all rows not used when a sequence ends, shape (sequences, offsets, states)."""
        batch = self.batch
        price = np.ones((len(batch.length), self.width, self.layout.states))
        if self.width == 1:
            return price
        gone = batch.gone[self.sequences, batch.length - 1]
        top = gone + self.reach
        for ahead in range(int((batch.rows - top).max(initial=0))):
            left = np.flatnonzero(top + ahead < batch.rows)
            price[left, -1] *= batch.skip[batch.row_at[left, top[left] + ahead]]
        for offset in range(self.width - 2, -1, -1):
            index = gone + offset - self.reach
            left = np.flatnonzero((index >= 0) & (index < batch.rows))
            price[left, offset] = price[left, offset + 1] * batch.skip[batch.row_at[left, index[left]]]
        return price

    def linked(self, step: int) -> list[int]:
        """Sequences whose states before and at this step are tied by a measured pair."""
        return self.links.get(step, [])

    def written_out(self, at: tuple[int, int]) -> tuple[Floats, Floats, Floats]:
        """
        Transition of one step written out, with its link.

        Returns
        -------
        tuple of array
            Staying (states, states), carrying on what was carried; changing (offsets, states, offsets, states) and the
            carried part of it, the step's emission included in all three.
        """
        batch, layout = self.batch, self.layout
        sequence, step = at
        link = batch.links[at]
        odds = batch.odds[sequence, step]
        emit = batch.emit[batch.emit_at[sequence, step]]
        staying = np.eye(layout.states)
        if len(self.members):
            staying[np.ix_(self.members, self.members)] = self.turn
        staying = (1 - odds) * staying * link * (self.stay(step)[sequence] * emit)[None, :]
        apart = (layout.group[:, None] != layout.group[None, :]) * link * self.leave[:, None]
        apart = odds * apart * (layout.popularity * emit)[None, :]
        kinds = self.row_kinds(step)[sequence]
        width = self.width
        path = np.zeros((width, layout.states, width, layout.states))
        for start in range(width):
            path[start, :, start, :] += batch.unnoted[sequence]
            price = np.ones(layout.states)
            for row in range(start, width - 1):
                path[start, :, row + 1, :] += (
                    price[:, None] * batch.use[sequence, step, row] * batch.match[kinds[row]][None, :]
                )
                price = price * batch.skip[kinds[row]]
        changing = path * apart[None, :, None, :]
        return staying, changing * self.change(step)[sequence], changing * self.carried(step)[sequence]
