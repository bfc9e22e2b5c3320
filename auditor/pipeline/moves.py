"""Frames that were moved or renamed: what was computed about them follows them to their new path."""

from __future__ import annotations

import contextlib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

from auditor.readers.records import Record
from auditor.readers.worker import Columns
from auditor.storage.datasets import TABLES, Manifest, OutdatedStore, Part, load_manifest, read, read_part, replace
from auditor.storage.places import Place

__all__ = ["Moves", "follow", "rows_at"]

_IDENTITY = ("size", "mtime_ns", "format", "model", "body_serial_number", "captured_at")
Key = tuple[str, str]


@dataclass
class Moves:
    """
    Old rows whose files are gone and new rows, by what tells one exposure from another.

    Size, time and Exif (format, body, moment) agree for a file that was moved or renamed; only where exactly one old
    row and one new row agree is it taken for a move.
    """

    old: dict[tuple[Any, ...], list[Key]] = field(default_factory=lambda: defaultdict(list))
    new: dict[tuple[Any, ...], list[Key]] = field(default_factory=lambda: defaultdict(list))

    def note_gone(self, rows: pa.Table) -> None:
        """Take note of rows whose files are gone."""
        columns = rows.cast(_plain_schema(rows.schema)).to_pydict()
        for key, identity in zip(_keys(columns), _identities(columns), strict=True):
            self.old[identity].append(key)

    def note_read(self, archive: str, columns: Columns) -> None:
        """Take note of rows that were read, where they may be among those that are gone."""
        if not self.old:
            return
        named = dict(zip(Record._fields, columns, strict=True))
        for path, identity in zip(named["path"], _identities(named), strict=True):
            if identity in self.old:
                self.new[identity].append((archive, path))

    def found(self) -> dict[Key, Key]:
        """Return the new key of each frame that moved, by its old one."""
        return {
            self.old[identity][0]: keys[0]
            for identity, keys in self.new.items()
            if len(keys) == len(self.old[identity]) == 1
        }


def _plain_schema(schema: pa.Schema) -> pa.Schema:
    """Return the schema with times as the readers have them: microseconds, a whole number."""
    return pa.schema(
        [pa.field(column.name, pa.int64() if column.name == "captured_at" else column.type) for column in schema]
    )


def _keys(columns: Mapping[str, list[Any]]) -> list[Key]:
    return list(zip(columns["archive"], columns["path"], strict=True))


def _identities(columns: Mapping[str, list[Any]]) -> list[tuple[Any, ...]]:
    return list(zip(*(columns[name] for name in _IDENTITY), strict=True))


def rows_at(place: Place, manifest: Manifest, positions: Mapping[str, list[int]]) -> list[pa.Table]:
    """Return key and identity of the rows at some positions."""
    parts = {part.file: Part(part.file, part.rows) for part in manifest.parts}
    columns = ("archive", "path", *_IDENTITY)
    return [read_part(place, parts[file], columns).take(pa.array(rows)) for file, rows in positions.items()]


def _renamed(rows: pa.Table, column: str, moved: Mapping[Key, Key]) -> tuple[list[str], list[str]]:
    archives, paths = rows.column("archive").to_pylist(), rows.column(column).to_pylist()
    keys = [moved.get(key, key) for key in zip(archives, paths, strict=True)]
    return [archive for archive, _ in keys], [path for _, path in keys]


def follow(store: Place, moved: Mapping[Key, Key]) -> None:
    """
    Give rows of the other tables the new paths of frames that moved.

    Raises
    ------
    StoreError
        A table cannot be read or written; it still has the old paths.
    """
    for name in ("audit", "measures", "overlaps"):
        schema, place = TABLES[name], store.within(name)
        with contextlib.suppress(OutdatedStore):  # it is computed anew anyway
            if not load_manifest(place).parts:
                continue
            rows = read(place, schema)
            for column in ("path", "path_a", "path_b"):
                if column in schema.names:
                    archives, paths = _renamed(rows, column, moved)
                    rows = rows.set_column(schema.get_field_index(column), schema.field(column), pa.array(paths))
                    moved_archives = pa.array(archives)
            rows = rows.set_column(schema.get_field_index("archive"), schema.field("archive"), moved_archives)
            replace(place, rows, schema)
