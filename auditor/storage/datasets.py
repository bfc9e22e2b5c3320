"""
Tables of the store: Parquet parts that are never changed, and one small manifest that says which of them count.

::

    store/frames/
      _manifest.json             replaced whole by every commit
      part-5f0c….parquet         written whole before the manifest names it

A kill at any moment leaves the last manifest and all its parts. A part that no manifest names is removed by the next
writer. Rows of a part can be dropped by the manifest until the part is rewritten, so that a changed frame is replaced
in one commit. Names that begin with ``_`` or ``.`` are skipped by every Parquet dataset reader.
"""

from __future__ import annotations

import errno
import os
import uuid
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from auditor.errors import StoreError
from auditor.model.tables import AUDIT, FRAMES, MEASURES, OVERLAPS
from auditor.storage.manifest import MANIFEST_FILE, Manifest, OutdatedStore, Part, commit, load_manifest
from auditor.storage.places import Place, place_at

__all__ = [
    "TABLES",
    "Manifest",
    "OutdatedStore",
    "Part",
    "commit",
    "load_manifest",
    "new_notes_name",
    "new_part_name",
    "parquet_options",
    "read",
    "read_part",
    "read_table",
    "remove_unnamed",
    "replace",
    "replace_table",
    "write_part",
]

TABLES: Mapping[str, pa.Schema] = {"frames": FRAMES, "audit": AUDIT, "measures": MEASURES, "overlaps": OVERLAPS}
"""The tables of a store and their schemas, by the name of their folder."""


def new_part_name() -> str:
    """Return a name that no part has."""
    return f"part-{uuid.uuid4().hex}.parquet"


def new_notes_name() -> str:
    """Return a name that no notes have; readers of Parquet datasets pass over it."""
    return f"_notes-{uuid.uuid4().hex}"


def parquet_options(schema: pa.Schema) -> dict[str, Any]:
    """Return how a table is written: small, and readable by every Parquet reader."""
    # A path differs from the one above it only at its end; the other words repeat.
    prefixed = [column for column in ("path", "companion") if column in schema.names]
    repeating = [column.name for column in schema if column.name not in prefixed and not pa.types.is_list(column.type)]
    return {
        "compression": "zstd",
        "use_dictionary": repeating,
        "column_encoding": dict.fromkeys(prefixed, "DELTA_BYTE_ARRAY"),
        "write_statistics": [column for column in schema.names if column in ("archive", "path", "captured_at")],
    }


def write_part(folder: Path | str | Place, rows: pa.Table, schema: pa.Schema) -> Part:
    """
    Write rows as a new part, whole; it counts only when a manifest with it is committed.

    Raises
    ------
    StoreError
        The rows do not fit the schema, or cannot be written (a full disk); what was stored is untouched.
    """
    place = place_at(folder)
    name = new_part_name()
    try:
        fitting = rows.select(schema.names).cast(schema)
    except (pa.ArrowInvalid, KeyError, ValueError) as misfit:
        raise StoreError(f"{place}: rows do not fit the table, nothing was written: {misfit}") from misfit
    try:
        place.write(name, lambda stream: pq.write_table(fitting, stream, **parquet_options(schema)))
    except OSError as failed:
        raise StoreError(f"{place} cannot be written, what was stored is untouched: {failed}") from failed
    return Part(name, fitting.num_rows)


def remove_unnamed(folder: Path | str | Place, manifest: Manifest) -> None:
    """Remove the files of a dataset that its manifest does not name; only for whoever holds the store's lock."""
    place = place_at(folder)
    named = {MANIFEST_FILE, manifest.notes, *(part.file for part in manifest.parts)}
    for name in place.names():
        if name not in named:
            place.remove(name)


def read_part(folder: Path | str | Place, part: Part, columns: Sequence[str]) -> pa.Table:
    """
    Read the rows of a part that count.

    Raises
    ------
    StoreError
        The file is absent or damaged.
    """
    place = place_at(folder)
    try:
        content = place.read(part.file)
        if content is None:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        # From memory: arrow's threads must not hold a Python file, which may outlive the interpreter's end.
        rows = pq.read_table(pa.BufferReader(content), columns=list(columns))
    except (OSError, pa.ArrowException) as damaged:
        text = f"{place}/{part.file} cannot be read ({damaged}); delete the store's folder and index again"
        raise StoreError(text) from damaged
    if not part.dropped:
        return rows
    counting = np.ones(part.rows, dtype=bool)
    counting[list(part.dropped)] = False
    return rows.filter(pa.array(counting))


def read(folder: Path | str | Place, schema: pa.Schema, columns: Sequence[str] | None = None) -> pa.Table:
    """
    Read a dataset, or some of its columns; no rows when it was never written.

    Raises
    ------
    OutdatedStore
        The dataset has another schema version.
    StoreError
        The dataset is damaged.

    Examples
    --------
    >>> read(Path("no-such-store"), FRAMES, ["path"]).num_rows
    0
    """
    wanted = list(schema.names if columns is None else columns)
    fields = pa.schema([schema.field(column) for column in wanted], metadata=schema.metadata)
    manifest = load_manifest(folder)
    while True:
        try:
            parts = [read_part(folder, part, wanted) for part in manifest.parts]
        except StoreError:
            committed = load_manifest(folder)
            if committed == manifest:
                raise
            manifest = committed  # a writer rewrote the parts between our two reads
        else:
            return pa.concat_tables(parts).cast(fields) if parts else fields.empty_table()


def replace(folder: Path | str | Place, rows: pa.Table, schema: pa.Schema) -> None:
    """
    Replace all rows of a dataset, in one commit.

    Raises
    ------
    StoreError
        The rows do not fit or cannot be written; what was stored still counts.

    Examples
    --------
    >>> import tempfile
    >>> from auditor.model.tables import empty_table
    >>> with tempfile.TemporaryDirectory() as store:
    ...     replace(Path(store) / "audit", empty_table(AUDIT), AUDIT)
    ...     read(Path(store) / "audit", AUDIT).num_columns == len(AUDIT)
    True
    """
    manifest = Manifest((write_part(folder, rows, schema),))
    commit(folder, manifest)
    remove_unnamed(folder, manifest)


def read_table(store: Path | str | Place, name: str, columns: Sequence[str] | None = None) -> pa.Table:
    """
    Read a table of a store by its name: frames, audit, measures or overlaps.

    Raises
    ------
    OutdatedStore
        The dataset has another schema version.
    StoreError
        The dataset is damaged.
    """
    return read(place_at(store).within(name), TABLES[name], columns)


def replace_table(store: Path | str | Place, name: str, rows: pa.Table) -> None:
    """
    Replace a table of a store by its name: frames, audit, measures or overlaps.

    Raises
    ------
    StoreError
        The rows do not fit or cannot be written; what was stored still counts.
    """
    replace(place_at(store).within(name), rows, TABLES[name])
