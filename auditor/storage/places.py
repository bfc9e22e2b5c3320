"""
Where a store lives: a folder, or a URL that fsspec knows, behind the same few operations.

A name is one path component or several with ``/`` between. Whatever is written is complete or absent: a folder by
`atomic.replacing`, an object store because it shows an object only when all of it has arrived.
"""

from __future__ import annotations

import contextlib
import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Protocol

from auditor.errors import MissingExtra
from auditor.storage.atomic import TEMPORARY_PREFIX, replacing

__all__ = ["FolderPlace", "Place", "UrlPlace", "is_url", "place_at"]

_URL = re.compile(r"^[a-z][a-z0-9+.-]+://|^[a-z][a-z0-9+.-]+::", re.IGNORECASE)

_SHOWN_WHEN_WHOLE = {"s3", "s3a", "gs", "gcs", "abfs", "abfss", "az", "memory"}


class Place(Protocol):
    """A folder, wherever it is."""

    def within(self, name: str) -> Place:
        """Return the folder of that name inside."""

    def read(self, name: str) -> bytes | None:
        """Return a file's content, None when there is no such file."""

    def write(self, name: str, fill: Callable[[BinaryIO], Any]) -> None:
        """Write a file whole, making the folder when needed."""

    def names(self) -> list[str]:
        """Return the names of the files directly inside, unfinished ones too; empty when there is no folder."""

    def remove(self, name: str) -> None:
        """Remove a file if it is there."""


@dataclass(frozen=True)
class FolderPlace:
    """A folder on this computer, or one that the system mounts."""

    folder: Path

    def __str__(self) -> str:
        return str(self.folder)

    def within(self, name: str) -> FolderPlace:
        """Return the folder of that name inside."""
        return FolderPlace(self.folder / name)

    def read(self, name: str) -> bytes | None:
        """Return a file's content, None when there is no such file."""
        try:
            return (self.folder / name).read_bytes()
        except FileNotFoundError:
            return None

    def write(self, name: str, fill: Callable[[BinaryIO], Any]) -> None:
        """Write a file whole, making the folder when needed."""
        self.folder.mkdir(parents=True, exist_ok=True)
        with replacing(self.folder / name) as stream:
            fill(stream)

    def names(self) -> list[str]:
        """Return the names of the files directly inside; empty when there is no folder."""
        if not self.folder.is_dir():
            return []
        return sorted(entry.name for entry in self.folder.iterdir() if entry.is_file())

    def remove(self, name: str) -> None:
        """Remove a file if it is there."""
        (self.folder / name).unlink(missing_ok=True)


@dataclass(frozen=True)
class UrlPlace:
    """A folder that fsspec opens; the extra ``steadykeep[cluster]`` brings it."""

    filesystem: Any
    root: str

    def __str__(self) -> str:
        return str(self.filesystem.unstrip_protocol(self.root))

    def _at(self, name: str) -> str:
        return f"{self.root}/{name}"

    def within(self, name: str) -> UrlPlace:
        """Return the folder of that name inside."""
        return UrlPlace(self.filesystem, self._at(name))

    def read(self, name: str) -> bytes | None:
        """Return a file's content, None when there is no such file."""
        try:
            return bytes(self.filesystem.cat_file(self._at(name)))
        except FileNotFoundError:
            return None

    def write(self, name: str, fill: Callable[[BinaryIO], Any]) -> None:
        """Write a file whole: filled in memory, then sent under its own name in one piece."""
        content = io.BytesIO()
        fill(content)
        with contextlib.suppress(FileExistsError):
            self.filesystem.makedirs(self.root, exist_ok=True)
        spoken = self.filesystem.protocol
        protocols = {spoken} if isinstance(spoken, str) else set(spoken)
        if _SHOWN_WHEN_WHOLE.isdisjoint(protocols):  # a shared disk by another road: half a file could be seen
            self.filesystem.pipe_file(self._at(TEMPORARY_PREFIX + name), content.getvalue())
            self.filesystem.mv(self._at(TEMPORARY_PREFIX + name), self._at(name))
        else:
            self.filesystem.pipe_file(self._at(name), content.getvalue())

    def names(self) -> list[str]:
        """Return the names of the files directly inside; empty when there is no folder."""
        self.filesystem.invalidate_cache()
        try:
            found = self.filesystem.ls(self.root, detail=True)
        except FileNotFoundError:
            return []
        return sorted(str(entry["name"]).rsplit("/", 1)[-1] for entry in found if entry["type"] == "file")

    def remove(self, name: str) -> None:
        """Remove a file if it is there."""
        with contextlib.suppress(FileNotFoundError):
            self.filesystem.rm_file(self._at(name))


def is_url(where: str) -> bool:
    """
    Tell a URL from a folder's name; a Windows drive letter is not a URL.

    Examples
    --------
    >>> is_url("s3://archive/2026"), is_url("C:/photos"), is_url("/photos")
    (True, False, False)
    """
    return bool(_URL.match(where))


def place_at(where: Path | str | Place) -> Place:
    """
    Return the place that a folder or a URL names.

    Raises
    ------
    MissingExtra
        A URL, and fsspec is not installed.

    Examples
    --------
    >>> str(place_at(Path("store")))
    'store'
    """
    if isinstance(where, Path):
        return FolderPlace(where)
    if not isinstance(where, str):
        return where
    if not is_url(where):
        return FolderPlace(Path(where))
    try:
        import fsspec
    except ImportError as missing:
        raise MissingExtra(f"{where} is a URL: it needs the extra, pip install 'steadykeep[cluster]'") from missing
    filesystem, root = fsspec.core.url_to_fs(where)
    if type(filesystem).__name__ == "LocalFileSystem":
        return FolderPlace(Path(root))
    return UrlPlace(filesystem, root.rstrip("/"))
