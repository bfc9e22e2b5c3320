"""Every course of a small sequence written out one by one: slow, and nothing shared with the program's recursion."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from auditor.audit.sequence.chain import REACH, Batch, Layout


@dataclass(frozen=True)
class Walk:
    """One course: its states, whether the typed value was left standing, the changes and rows used, its weight."""

    states: tuple[int, ...]
    carried: tuple[bool, ...]
    changed: tuple[bool, ...]
    used: tuple[int | None, ...]
    weight: float


def random_layout(random: np.random.Generator, groups: list[int]) -> Layout:
    popularity = random.dirichlet(np.ones(len(groups)))
    return Layout(popularity, np.array(groups), move=0.2)


def random_batch(random: np.random.Generator, layout: Layout, length: list[int], rows: list[int]) -> Batch:
    count, steps, states = len(length), max(length), layout.states
    gone = np.sort(random.integers(0, np.array(rows)[:, None] + 1, (count, steps)), axis=1)
    for sequence, n in enumerate(length):
        gone[sequence, n:] = gone[sequence, n - 1]
    most = max(rows)
    row_at = random.integers(0, 3, (count, most + 1))
    for sequence, n in enumerate(rows):
        row_at[sequence, n:] = 3
    match = np.vstack([random.uniform(0.05, 1, (3, states)), np.zeros((1, states))])
    change = random.uniform(0.1, 1, (3, states))
    return Batch(
        length=np.array(length),
        emit=random.uniform(0.05, 1, (4, states)),
        emit_at=random.integers(0, 4, (count, steps)),
        stay=random.uniform(0.1, 1, (3, states)),
        change=change,
        carried=change * random.uniform(0, 1, (3, states)),
        kept=np.array([1.0, 0.0, 1.0]),
        kind_at=random.integers(0, 3, (count, steps)),
        odds=random.uniform(0.05, 0.6, (count, steps)),
        gone=gone,
        rows=np.array(rows),
        row_at=row_at,
        match=match,
        skip=np.vstack([random.uniform(0.05, 0.5, (3, states)), np.ones((1, states))]),
        skip_start=np.append(random.uniform(0.05, 0.5, 3), 1.0),
        use=random.uniform(0.1, 2, (count, steps, 2 * REACH + 1)) if most else np.zeros((count, steps, 1)),
        unnoted=random.uniform(0.1, 0.9, count),
        links={},
        free=random.uniform(0.1, 1.0, (count, steps, states)),
    )


class Walker:
    """Writes out all walks of one sequence of a batch."""

    def __init__(self, layout: Layout, batch: Batch, sequence: int) -> None:
        self.layout, self.batch, self.sequence = layout, batch, sequence
        self.rows = [int(kind) for kind in batch.row_at[sequence][: batch.rows[sequence]]]
        self.last = int(batch.length[sequence]) - 1

    def walks(self) -> list[Walk]:
        return list(self._from(0, [], 0, 1.0))

    def _skip(self, row: int, walk: list[tuple[int, bool, bool, int | None]]) -> float:
        kind = self.rows[row]
        return float(self.batch.skip[kind, walk[-1][0]] if walk else self.batch.skip_start[kind])

    def _from(
        self, step: int, walk: list[tuple[int, bool, bool, int | None]], used: int, weight: float
    ) -> Iterator[Walk]:
        if step > self.last:
            for row in range(used, len(self.rows)):
                weight *= self._skip(row, walk)
            states, carried, changed, rows = zip(*walk, strict=True)
            yield Walk(states, carried, changed, rows, weight)
            return
        gone = int(self.batch.gone[self.sequence, step])
        while used < gone - REACH:
            weight *= self._skip(used, walk)
            used += 1
        for entry, now_used, factor in self._moves(step, walk, used, gone):
            yield from self._from(step + 1, [*walk, entry], now_used, weight * factor)

    def _moves(self, step: int, walk: list[tuple[int, bool, bool, int | None]], used: int, gone: int):
        batch, layout, n = self.batch, self.layout, self.sequence
        kind = batch.kind_at[n, step]
        odds = batch.odds[n, step] if step else 1.0
        free = np.ones(layout.states) if batch.free is None else batch.free[n, step]
        less = np.ones(layout.states) if batch.free is None or not step else free / batch.free[n, step - 1]
        for state in range(layout.states):
            emit = batch.emit[batch.emit_at[n, step], state]
            if walk and layout.group[walk[-1][0]] == layout.group[state]:
                size = int((layout.group == layout.group[state]).sum())
                move = layout.move / size + (1 - layout.move) * (state == walk[-1][0]) if size > 1 else 1.0
                keeps = walk[-1][1] and bool(batch.kept[kind])
                kept = min(less[state], 1)
                yield (state, keeps, False, None), used, (1 - odds) * move * batch.stay[kind, state] * emit * kept
                continue
            arrive = odds * layout.popularity[state] * emit * free[state]
            if walk:
                arrive /= layout.popularity[layout.group != layout.group[walk[-1][0]]].sum()
            for row_used, now_used, price in self._notes(step, walk, used, gone, state):
                for left, likelihood in (
                    (True, batch.carried[kind, state]),
                    (False, batch.change[kind, state] - batch.carried[kind, state]),
                ):
                    yield (state, left, True, row_used), now_used, arrive * price * likelihood

    def _notes(self, step, walk, used, gone, state):
        yield None, used, self.batch.unnoted[self.sequence]
        price = 1.0
        for row in range(used, len(self.rows)):
            offset = row - gone
            if offset > REACH - 1:
                return
            use = self.batch.use[self.sequence, step, offset + REACH]
            yield row, row + 1, price * use * self.batch.match[self.rows[row], state]
            price *= self._skip(row, walk)
