"""Which parts of a dataset count: one small file, replaced whole by every commit."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from dataclasses import replace as with_changes
from pathlib import Path
from typing import Any

from auditor.errors import StoreError
from auditor.model.tables import schema_version
from auditor.storage.places import Place, place_at

__all__ = ["MANIFEST_FILE", "Manifest", "OutdatedStore", "Part", "commit", "load_manifest"]

MANIFEST_FILE = "_manifest.json"


class OutdatedStore(StoreError):
    """
    The store was written by another version of the program; the caller rebuilds it and says so.

    Parameters
    ----------
    where : str
        The dataset.
    found : int or None
        Its schema version, None when it has none.
    """

    def __init__(self, where: str, found: int | None) -> None:
        self.found = found
        table = _table_at(where)
        super().__init__(
            f"{where} was written with table version {found}, this program writes version {schema_version(table)}: "
            f"it has to be built again (steadykeep {_BUILT_BY.get(table, 'index')})"
        )


_BUILT_BY = {"audit": "audit"} | dict.fromkeys(("measures", "overlaps", "looks", "subjects", "tried"), "measure")


def _table_at(where: str) -> str:
    """Return which table a dataset is: it lies in a folder of the table's name."""
    return where.replace("\\", "/").rstrip("/").rpartition("/")[2]


@dataclass(frozen=True)
class Part:
    """One Parquet file of a dataset: its name, its rows, and the positions of rows that no longer count."""

    file: str
    rows: int
    dropped: tuple[int, ...] = ()


@dataclass(frozen=True)
class Manifest:
    """
    What a dataset consists of.

    Attributes
    ----------
    parts : tuple of Part
        The Parquet files.
    notes : str or None
        A file of the dataset's writer about the rows (the index keeps there what each folder looked like); None when
        it does not hold for these rows.
    """

    parts: tuple[Part, ...] = ()
    notes: str | None = None

    @property
    def rows(self) -> int:
        """Rows that count."""
        return sum(part.rows - len(part.dropped) for part in self.parts)

    def dropping(self, positions: Mapping[str, Iterable[int]]) -> Manifest:
        """
        Return the manifest without some rows: for a part's file, the positions in it that no longer count.

        Examples
        --------
        >>> Manifest((Part("a", 3), Part("b", 1))).dropping({"a": [2], "b": [0]}).parts
        (Part(file='a', rows=3, dropped=(2,)),)
        """
        parts = [
            with_changes(part, dropped=tuple(sorted({*part.dropped, *positions[part.file]})))
            if part.file in positions
            else part
            for part in self.parts
        ]
        return with_changes(self, parts=tuple(part for part in parts if len(part.dropped) < part.rows))


def _parsed(content: bytes, where: str) -> Manifest:
    try:
        document: dict[str, Any] = json.loads(content)
        version = document["schema_version"]
        parts = tuple(Part(part["file"], part["rows"], tuple(part["dropped"])) for part in document["parts"])
    except (ValueError, KeyError, TypeError) as broken:
        text = f"{where}/{MANIFEST_FILE} cannot be read ({broken}); delete the store's folder and index again"
        raise StoreError(text) from broken
    if version != schema_version(_table_at(where)):
        raise OutdatedStore(where, version)
    return Manifest(parts, document.get("notes"))


def load_manifest(folder: Path | str | Place) -> Manifest:
    """
    Read which parts of a dataset count; a folder without a manifest has none.

    Raises
    ------
    OutdatedStore
        The dataset has another schema version.
    StoreError
        The manifest cannot be read.
    """
    place = place_at(folder)
    try:
        content = place.read(MANIFEST_FILE)
    except OSError as failed:
        raise StoreError(f"{place} cannot be read: {failed}") from failed
    return Manifest() if content is None else _parsed(content, str(place))


def commit(folder: Path | str | Place, manifest: Manifest) -> None:
    """
    Make a manifest the one that counts.

    Raises
    ------
    StoreError
        It cannot be written; the last one still counts.
    """
    place = place_at(folder)
    document = {
        "schema_version": schema_version(_table_at(str(place))),
        "notes": manifest.notes,
        "parts": [{"file": part.file, "rows": part.rows, "dropped": list(part.dropped)} for part in manifest.parts],
    }
    content = json.dumps(document, indent=0).encode()
    try:
        place.write(MANIFEST_FILE, lambda stream: stream.write(content))
    except OSError as failed:
        raise StoreError(f"{place} cannot be written, what was stored is untouched: {failed}") from failed
