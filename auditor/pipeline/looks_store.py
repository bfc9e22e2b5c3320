"""The private tables of what was measured, and a way to add to them that survives an interruption."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
from numpy.typing import NDArray

from auditor.model.looks import METHOD
from auditor.pipeline.looking import PixelFile
from auditor.storage.datasets import Manifest, OutdatedStore, commit, load_manifest, read, replace, write_part
from auditor.storage.places import Place

__all__ = ["PrivateTable", "holds", "readable"]

_COMMIT_ROWS, _COMMIT_S, _MOST_PARTS = 256, 20.0, 12


class PrivateTable:
    """
    Rows by archive and path.

    Parameters
    ----------
    store : Place
        The store; whoever makes this holds its lock.
    schema : Schema
        Of the table; its metadata name it and its folder.
    """

    def __init__(self, store: Place, schema: pa.Schema) -> None:
        self._schema = schema
        self._place = store.within(schema.metadata[b"table"].decode())
        try:
            self._manifest = load_manifest(self._place)
            table = read(self._place, schema)
        except OutdatedStore:
            self._manifest, table = Manifest(), schema.empty_table()
        self.rows: dict[tuple[str, str], dict[str, Any]] = {
            (row["archive"], row["path"]): row for row in table.to_pylist()
        }
        self._waiting: list[dict[str, Any]] = []
        self._since_s = time.monotonic()

    def add(self, row: dict[str, Any]) -> None:
        """Keep a row; committed every few hundred rows or every few seconds."""
        self.rows[row["archive"], row["path"]] = row
        self._waiting.append(row)
        if len(self._waiting) >= _COMMIT_ROWS or time.monotonic() - self._since_s > _COMMIT_S:
            self.flush()

    def flush(self) -> None:
        """Commit what is waiting; of two rows of one frame the later counts."""
        self._since_s = time.monotonic()
        if not self._waiting:
            return
        if len(self._manifest.parts) >= _MOST_PARTS:
            replace(self._place, pa.Table.from_pylist(list(self.rows.values()), schema=self._schema), self._schema)
            self._manifest = load_manifest(self._place)
        else:
            part = write_part(self._place, pa.Table.from_pylist(self._waiting, schema=self._schema), self._schema)
            self._manifest = Manifest((*self._manifest.parts, part))
            commit(self._place, self._manifest)
        self._waiting = []


def holds(looks: PrivateTable, file: PixelFile) -> bool:
    """Tell whether a file was measured as it is now."""
    row = looks.rows.get((file.archive, file.path))
    return row is not None and (row["size"], row["mtime_ns"], row["method"]) == (file.size, file.mtime_ns, METHOD)


def readable(looks: PrivateTable, frames: pd.DataFrame) -> NDArray[np.bool_]:
    """Return which frames were decoded."""
    rows = [looks.rows.get(key) for key in zip(frames["archive"], frames["path"], strict=True)]
    return np.array([row is not None and row.get("problem") is None for row in rows], bool)
