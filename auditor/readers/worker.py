"""
The reading process: frames in on standard input, columns of rows out on standard output.

It imports nothing but the readers, so that it starts in a moment and stays small. Started anew by the pool when a file
hangs it or ends it.
"""

from __future__ import annotations

import pickle
import signal
import sys
from collections.abc import Sequence
from typing import Any, BinaryIO, NamedTuple

from auditor.readers.frames import Frame, read_frame
from auditor.readers.records import Record

__all__ = ["Columns", "Task", "as_columns", "read_task", "serve"]

Columns = tuple[list[Any], ...]
"""The values of some rows, one list a column of `Record`, in its order."""

_REPEATING = tuple(Record._fields.index(name) for name in ("make", "model", "lens_make", "lens_model", "drive_mode"))


class Task(NamedTuple):
    """Frames of one archive to read: the archive's folder, and the frames."""

    root: str
    frames: Sequence[Frame]


def as_columns(rows: Sequence[Record]) -> Columns:
    """
    Turn rows into columns; equal texts become one object, so that they cross to another process once.

    Examples
    --------
    >>> as_columns([Record("a.jpg", 1, 2), Record("b.jpg", 3, 4)])[:3]
    (['a.jpg', 'b.jpg'], [1, 3], [2, 4])
    """
    columns = tuple(map(list, zip(*rows, strict=True))) if rows else tuple([] for _ in Record._fields)
    seen: dict[Any, Any] = {}
    for index in _REPEATING:
        columns[index][:] = [seen.setdefault(value, value) for value in columns[index]]
    return columns


def read_task(task: Task) -> Columns:
    """Read the frames of a task."""
    return as_columns([row for frame in task.frames for row in read_frame(task.root, frame)])


def serve(requests: BinaryIO | None = None, answers: BinaryIO | None = None) -> None:
    """Read tasks until there are no more; the main loop of the process."""
    requests = requests or sys.stdin.buffer
    answers = answers or sys.stdout.buffer
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches every process; the pool's owner decides what it means
    while True:
        try:
            root, frames = pickle.load(requests)  # noqa: S301  (from the process that started this one)
        except EOFError:
            return
        pickle.dump(read_task(Task(root, frames)), answers, pickle.HIGHEST_PROTOCOL)
        answers.flush()
