"""The journal's file: appended to before anything is written, read for undoing, shortened when undone."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType
from typing import BinaryIO

from auditor.corrections.journal import Entry, Spot, by_spot, from_line, to_line
from auditor.errors import StoreError
from auditor.model.workspace import Workspace
from auditor.storage.atomic import replacing

__all__ = ["Journal", "journal_folder", "read_journal", "rewrite_journal"]

_NAME = "sidecars.jsonl"


def journal_folder(workspace: Workspace) -> Path:
    """Return the folder of the journal and of its lock; unlike the store it cannot be rebuilt."""
    return workspace.folder / "journal"


def _lines(path: Path) -> Iterator[Entry]:
    """Yield the journal's entries; a last line without its end was never acted upon."""
    if not path.exists():
        return
    with path.open("rb") as stream:
        for number, line in enumerate(stream, start=1):
            if not line.endswith(b"\n"):
                return
            try:
                yield from_line(line)
            except ValueError as reason:
                raise StoreError(
                    f"{path}: line {number} is damaged ({reason}); nothing was changed. "
                    "Put a copy of the file aside before you remove the line"
                ) from None


def read_journal(workspace: Workspace) -> dict[Spot, list[Entry]]:
    """
    Return the journal's entries of each sidecar, oldest first.

    Raises
    ------
    StoreError
        A line in it is damaged.
    """
    return by_spot(_lines(journal_folder(workspace) / _NAME))


def rewrite_journal(workspace: Workspace, entries: Iterable[Entry]) -> None:
    """
    Keep only these entries; without any the journal's file is removed.

    Raises
    ------
    OSError
        It cannot be written; the old one is whole.
    """
    path = journal_folder(workspace) / _NAME
    kept = [to_line(entry) for entry in entries]
    if kept:
        with replacing(path) as out:
            out.writelines(kept)
    else:
        path.unlink(missing_ok=True)


class Journal:
    """The journal, open for adding entries; used as a context."""

    def __init__(self, workspace: Workspace) -> None:
        self.path = journal_folder(workspace) / _NAME
        self.stream: BinaryIO | None = None

    def __enter__(self) -> Journal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.stream is not None:
            with contextlib.suppress(OSError):
                self.stream.close()

    def add(self, entries: Iterable[Entry]) -> None:
        """
        Add entries and wait until they are on the disk.

        Raises
        ------
        StoreError
            They could not be written; what they tell of must not be done.
        """
        try:
            stream = self.stream = self.stream or _opened(self.path)
            start = stream.seek(0, os.SEEK_END)
            try:
                stream.write(b"".join(to_line(entry) for entry in entries))
                stream.flush()
                os.fsync(stream.fileno())
            except OSError:
                with contextlib.suppress(OSError):
                    stream.truncate(start)
                raise
        except OSError as reason:
            raise StoreError(
                f"{self.path}: the journal cannot be written ({reason.strerror or reason}); "
                "no further sidecar was touched"
            ) from None


def _opened(path: Path) -> BinaryIO:
    path.parent.mkdir(parents=True, exist_ok=True)
    stream = path.open("ab+")
    _cut_torn_line(stream)
    return stream


def _cut_torn_line(stream: BinaryIO) -> None:  # the last line of a run that was killed while it wrote
    end = stream.seek(0, os.SEEK_END)
    start, tail = end, b""
    while start > 0 and b"\n" not in tail:
        step = min(65536, start)
        start -= step
        stream.seek(start)
        tail = stream.read(step) + tail
    whole = start + tail.rfind(b"\n") + 1 if b"\n" in tail else 0
    if whole < end:
        stream.truncate(whole)
