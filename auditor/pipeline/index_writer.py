"""The writing side of an index run: a thread that turns rows into committed parts while the readers go on."""

from __future__ import annotations

import queue
import threading
import time
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace as with_changes

import pyarrow as pa

from auditor.model.tables import FRAMES
from auditor.pipeline.changes import Position
from auditor.readers.records import Record
from auditor.readers.worker import Columns
from auditor.storage.datasets import Manifest, commit, write_part
from auditor.storage.places import Place

__all__ = ["Writer", "as_table"]

_COMMIT_ROWS = 8192
_COMMIT_S = 1.0
_WAITING_ANSWERS = 256


def as_table(archives: Sequence[str], columns: Columns) -> pa.Table:
    """Return rows as the readers give them, and the archive of each, as rows of the frames table."""
    types = (FRAMES.field(name).type for name in Record._fields)
    arrays = [pa.array(values, kind) for values, kind in zip(columns, types, strict=True)]
    return pa.table([pa.array(archives, pa.string()), *arrays], schema=FRAMES)


def _no_rows() -> Columns:
    return tuple([] for _ in Record._fields)


class Writer:
    """
    Commits rows in the background, every few thousand or every second.

    Parameters
    ----------
    place : Place
        The frames dataset.
    manifest : Manifest
        What it consists of at the start; afterwards, what was committed last.
    """

    def __init__(self, place: Place, manifest: Manifest) -> None:
        self.manifest = manifest
        self._place = place
        self._queue: queue.Queue[tuple[str, Columns, tuple[Position, ...]] | None] = queue.Queue(_WAITING_ANSWERS)
        self._error: BaseException | None = None
        self._archives: list[str] = []
        self._columns: Columns = _no_rows()
        self._replaced: dict[str, list[int]] = defaultdict(list)
        self._since_s = time.monotonic()
        self._thread = threading.Thread(target=self._work, daemon=True)
        self._thread.start()

    def add(self, archive: str, columns: Columns, replaces: Iterable[Position]) -> None:
        """
        Hand over rows of an archive, and the positions of the rows that they replace.

        Raises
        ------
        StoreError
            An earlier write failed.
        """
        while True:
            if self._error is not None:
                raise self._error
            try:
                self._queue.put((archive, columns, tuple(replaces)), timeout=0.5)
            except queue.Full:
                continue
            return

    def finish(self) -> Manifest:
        """
        Commit what was handed over and end the thread.

        Raises
        ------
        StoreError
            A write failed; what was committed before still counts.
        """
        while self._thread.is_alive():
            try:
                self._queue.put(None, timeout=0.5)
            except queue.Full:
                continue
            break
        self._thread.join()
        if self._error is not None:
            raise self._error
        return self.manifest

    def _work(self) -> None:
        try:
            while (job := self._next()) is not None:
                self._take(*job)
            self._commit()
        except BaseException as error:
            self._error = error

    def _next(self) -> tuple[str, Columns, tuple[Position, ...]] | None:
        while True:
            try:
                return self._queue.get(timeout=_COMMIT_S if self._is_waiting() else None)
            except queue.Empty:
                self._commit()

    def _take(self, archive: str, columns: Columns, replaces: tuple[Position, ...]) -> None:
        if not self._is_waiting():
            self._since_s = time.monotonic()
        self._archives += [archive] * len(columns[0])
        for waiting, more in zip(self._columns, columns, strict=True):
            waiting += more
        for position in replaces:
            self._replaced[position.file].append(position.row)
        if len(self._archives) >= _COMMIT_ROWS or time.monotonic() - self._since_s >= _COMMIT_S:
            self._commit()

    def _commit(self) -> None:
        if not self._is_waiting():
            return
        parts = self.manifest.parts
        if self._archives:
            # One table of many rows: a table costs as much as a thousand rows of it.
            parts = (*parts, write_part(self._place, as_table(self._archives, self._columns), FRAMES))
        # The notes tell what folders looked like when all their rows were there: not while rows come and go.
        manifest = with_changes(self.manifest, parts=parts, notes=None).dropping(self._replaced)
        commit(self._place, manifest)
        self.manifest = manifest
        self._archives, self._columns, self._replaced = [], _no_rows(), defaultdict(list)

    def _is_waiting(self) -> bool:
        return bool(self._archives or self._replaced)
