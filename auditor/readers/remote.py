"""
Archives behind a URL that fsspec opens: object stores and shared disks that a cluster's workers see alike.

The same walk and the same reading; only listing, size, time and bytes come another way. fsspec comes with the extra
``steadykeep[cluster]``.
"""

from __future__ import annotations

import errno
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import lru_cache, partial
from importlib import import_module
from typing import Any

from auditor.errors import MissingExtra
from auditor.readers.names import as_name

__all__ = ["RemoteFile", "is_remote", "list_folder", "open_remote"]

_TIMES = ("mtime", "LastModified", "last_modified", "updated", "modified", "created")


def is_remote(root: str) -> bool:
    """
    Tell an archive behind a URL from a folder.

    Examples
    --------
    >>> is_remote("memory://archive"), is_remote("/photos/2026")
    (True, False)
    """
    return "://" in root


@lru_cache(maxsize=16)
def _filesystem(root: str) -> tuple[Any, str]:
    try:
        fsspec: Any = import_module("fsspec")
    except ImportError as missing:
        raise MissingExtra(f"{root} is a URL: it needs the extra, pip install 'steadykeep[cluster]'") from missing
    filesystem, base = fsspec.core.url_to_fs(root)
    return filesystem, base.rstrip("/")


def _time_ns(info: dict[str, Any]) -> int:
    """Return the time of a file, however its store calls and counts it; 0 when it does not say. [ns]."""
    value = next((info[name] for name in _TIMES if info.get(name) is not None), None)
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value)
        except ValueError:
            return 0
    if isinstance(value, datetime):
        value = (value if value.tzinfo else value.replace(tzinfo=UTC)).timestamp()
    return round(value * 1e6) * 1000 if isinstance(value, (int, float)) else 0


def list_folder(root: str, path: str) -> Iterator[tuple[str, bool, int, int]]:
    """
    List a folder of an archive.

    Yields
    ------
    (str, bool, int, int)
        Name, whether it is a folder, size [byte], time [ns].

    Raises
    ------
    OSError
        It cannot be listed.
    """
    filesystem, base = _filesystem(root)
    filesystem.invalidate_cache()
    for info in filesystem.ls(f"{base}/{path}".rstrip("/"), detail=True):
        name = str(info["name"]).rstrip("/").rsplit("/", 1)[-1]
        if name:
            yield name, info["type"] == "directory", int(info.get("size") or 0), _time_ns(info)


class RemoteFile:
    """
    One file of an archive behind a URL.

    Attributes
    ----------
    size : int
        Its length. [byte]
    mtime_ns : int
        Its time. [ns]
    """

    def __init__(self, filesystem: Any, name: str) -> None:
        info = filesystem.info(name)
        if info["type"] != "file":
            raise OSError(errno.ENOENT, "not a file", name)
        self.size, self.mtime_ns = int(info["size"]), _time_ns(info)
        self._range = partial(filesystem.cat_file, name)

    def read_at(self, offset: int, length: int) -> bytes:
        """Return that many bytes from an offset, fewer at the end of the file."""
        return bytes(self._range(start=offset, end=min(offset + length, self.size))) if offset < self.size else b""


def open_remote(root: str, path: str) -> RemoteFile:
    """
    Open a file of an archive.

    Raises
    ------
    OSError
        There is none, or it cannot be read.
    """
    filesystem, base = _filesystem(root)
    return RemoteFile(filesystem, f"{base}/{as_name(path)}")
