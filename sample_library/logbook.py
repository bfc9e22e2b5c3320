"""The log.csv that the photographer kept: mostly right, a minute off here and there, and with one mangled row."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from sample_library.cast import Cast
from sample_library.shots import Shot
from sample_library.story import Segment

__all__ = ["COLUMNS", "Entry", "log_text", "row_in_force", "write_up"]

COLUMNS = (
    "start", "end", "body", "lens", "adapter", "support", "stabiliser", "setting_mm", "focal_mm",
    "focus_distance_m", "aperture", "subject", "note",
)  # fmt: skip

PUT_AWAY_MIN = 5
"""Minutes after the day's last frame at which the body was put away and the row closed."""

SPREADSHEET_EPOCH = dt.datetime(1899, 12, 30)
"""Spreadsheets count days from here; a date cell formatted as a number shows that count."""


@dataclass(frozen=True)
class Entry:
    """A row of the log: from when to when she believed this segment's pairing was mounted. Minutes are whole."""

    segment: Segment
    start: dt.datetime
    end: dt.datetime | None

    @property
    def is_readable(self) -> bool:
        """Whether the spreadsheet left the row as it was."""
        return self.segment.log != "unreadable"


def _noted_at(segment: Segment, seed: int) -> dt.datetime:
    """Return the time she wrote down: the lens went on three minutes before the first frame."""
    rng = np.random.default_rng([seed, zlib.crc32(segment.id.encode()), 2])
    shift = segment.shift_min if segment.shift_min is not None else int(rng.integers(-1, 2))
    return segment.start.replace(second=0) + dt.timedelta(minutes=shift - 3)


def write_up(segments: Sequence[Segment], shots: Sequence[Shot], seed: int) -> list[Entry]:
    """
    Return the log's entries in order of time.

    A body's last entry of a shooting day is closed by its ``end``; the others hold until the next.
    """
    last_frame = {
        key: max(shot.taken_at for shot in group)
        for key, group in groupby(
            sorted(shots, key=lambda s: (s.segment.body, s.segment.start.date())),
            key=lambda s: (s.segment.body, s.segment.start.date()),
        )
    }
    written = [segment for segment in segments if segment.log in ("noted", "unreadable")]
    closing = {(segment.body, segment.start.date()): segment.id for segment in written}
    entries = []
    for segment in written:
        day = (segment.body, segment.start.date())
        end = None
        if closing[day] == segment.id:
            end = last_frame[day].replace(second=0, microsecond=0) + dt.timedelta(minutes=PUT_AWAY_MIN)
        entries.append(Entry(segment, _noted_at(segment, seed), end))
    return sorted(entries, key=lambda entry: entry.start)


def row_in_force(shot: Shot, entries: Sequence[Entry]) -> Entry | None:
    """Return the readable entry that holds for a shot, None where the log is silent."""
    ours = [entry for entry in entries if entry.is_readable and entry.segment.body == shot.segment.body]
    begun = [entry for entry in ours if entry.start <= shot.taken_at]
    if not begun or (begun[-1].end is not None and shot.taken_at >= begun[-1].end):
        return None
    return begun[-1]


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _cells(entry: Entry, cast: Cast) -> list[str]:
    segment = entry.segment
    start = f"{entry.start:%Y-%m-%d %H:%M}"
    if not entry.is_readable:
        start = f"{(entry.start - SPREADSHEET_EPOCH) / dt.timedelta(days=1):.4f}"
    stabiliser = "" if segment.stabiliser and segment.support == "hand" else ("on" if segment.stabiliser else "off")
    contacts = cast.lenses[segment.lens].contacts
    return [
        start,
        f"{entry.end:%Y-%m-%d %H:%M}" if entry.end else "",
        segment.body,
        segment.lens,
        segment.adapter,
        segment.support,
        stabiliser,
        _number(segment.typed if segment.setting_noted else None),
        _number(segment.zoom_mm if segment.zoom_noted else None),
        _number(segment.distance_m if segment.distance_noted else None),
        "" if contacts else _number(segment.aperture),
        segment.subject,
        segment.note,
    ]


def log_text(entries: Sequence[Entry], cast: Cast) -> str:
    """Return log.csv, header row first."""
    out = io.StringIO(newline="")
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    rows.writerows(_cells(entry, cast) for entry in entries)
    return out.getvalue()
