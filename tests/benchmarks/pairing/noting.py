"""How a simulated photographer keeps his log."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from auditor.model.log import LogRow
from auditor.model.pairings import Pairing

if TYPE_CHECKING:
    from tests.benchmarks.pairing.photographer import Habits


@dataclass(frozen=True)
class Stay:
    pairing: Pairing
    position_mm: float
    put_on: dt.datetime
    first: dt.datetime
    last: dt.datetime


def noted(random: np.random.Generator, habits: Habits, stays: list[Stay], coverage: float) -> list[LogRow]:
    """Write the log: in stretches of noting and not noting, late, cut to the minute, now and then wrong."""
    rows: list[LogRow] = []
    noting = random.random() < coverage
    for stay in stays:
        # The chance to go on as before is high; the long-run share of noted changes is `coverage`.
        if random.random() < 0.5:
            noting = random.random() < coverage
        if not noting:
            continue
        rows.append(_row(random, habits, stay, stay.put_on, stays))
        if random.random() < habits.needless_rows:
            middle = stay.first + (stay.last - stay.first) * float(random.random())
            rows.append(_row(random, habits, stay, middle, stays))
    # A log is written from top to bottom: its times err, its order does not.
    starts = np.maximum.accumulate([row.start for row in rows])
    return [
        replace(row, start=start, line=number) for number, (row, start) in enumerate(zip(rows, starts, strict=True))
    ]


def _row(random: np.random.Generator, habits: Habits, stay: Stay, at: dt.datetime, stays: list[Stay]) -> LogRow:
    error = float(random.standard_t(3)) * habits.time_error_s * 0.6 + habits.late_s
    if random.random() < 0.03:
        error += float(random.uniform(300, 1500))
    # Whoever notes late notes what is on: not long after its last frame.
    start = min(at + dt.timedelta(seconds=error), max(at, stay.last) + dt.timedelta(seconds=60))
    start = start.replace(second=0, microsecond=0)
    pairing = stay.pairing
    if random.random() < habits.misnoted:
        pairing = stays[random.integers(len(stays))].pairing
    return LogRow(
        line=0,
        start=start,
        body=stay.pairing.body.id,
        lens=pairing.lens.id,
        adapter=None if random.random() < habits.adapter_not_noted else pairing.adapter_id or None,
        focal_mm=stay.position_mm
        if pairing.lens.is_zoom and not pairing.contacts and random.random() < habits.position_noted
        else None,
    )
