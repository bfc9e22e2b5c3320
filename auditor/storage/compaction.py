"""Few large parts without dropped rows, made from many small ones; in constant memory and one commit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace as with_changes
from pathlib import Path
from typing import BinaryIO

import pyarrow as pa
import pyarrow.parquet as pq

from auditor.storage.datasets import Manifest, Part, new_part_name, parquet_options, read_part
from auditor.storage.places import Place, place_at

__all__ = ["compacted"]

_LARGE_ROWS = 1 << 17
_GROUP_ROWS = 1 << 15


def _small(manifest: Manifest) -> list[Part]:
    """Return the parts worth rewriting: those with dropped rows, and small ones when there are several."""
    worn = [part for part in manifest.parts if part.dropped]
    little = [part for part in manifest.parts if not part.dropped and part.rows < _LARGE_ROWS // 4]
    return worn + (little if len(little) + len(worn) > 1 else [])


def _batches(place: Place, parts: list[Part], schema: pa.Schema) -> Iterator[pa.Table]:
    for part in parts:
        yield read_part(place, part, schema.names)


def _fill(stream: BinaryIO, rows: list[pa.Table], schema: pa.Schema) -> None:
    with pq.ParquetWriter(stream, schema, **parquet_options(schema)) as writer:
        for table in rows:
            writer.write_table(table.cast(schema), row_group_size=_GROUP_ROWS)


def compacted(folder: Path | str | Place, manifest: Manifest, schema: pa.Schema) -> Manifest:
    """
    Rewrite small and worn parts into large ones.

    Returns
    -------
    Manifest
        Not committed yet; the old parts are still there.
    """
    place = place_at(folder)
    old = _small(manifest)
    new: list[Part] = []
    waiting: list[pa.Table] = []
    count = 0

    def write() -> None:
        nonlocal waiting, count
        if count:
            name = new_part_name()
            place.write(name, lambda stream: _fill(stream, waiting, schema))
            new.append(Part(name, count))
        waiting, count = [], 0

    for table in _batches(place, old, schema):
        waiting.append(table)
        count += table.num_rows
        if count >= _LARGE_ROWS:
            write()
    write()
    rewritten = {part.file for part in old}
    kept = tuple(part for part in manifest.parts if part.file not in rewritten)
    return with_changes(manifest, parts=(*kept, *new))
