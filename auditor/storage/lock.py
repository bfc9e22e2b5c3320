"""One writer at a time: a lock that the system gives back when its holder dies, noting who holds it since when."""

from __future__ import annotations

import contextlib
import getpass
import json
import os
import socket
import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from auditor.errors import StoreError
from auditor.storage.places import FolderPlace, Place, place_at

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

__all__ = ["StoreLocked", "locked"]

_NAME = "lock"
_FAR = 1 << 30
"""Byte that Windows locks: past the note, which must stay readable for others."""


class StoreLocked(StoreError):
    """
    Another process writes to the store.

    Parameters
    ----------
    store : str
        The store.
    note : dict
        What the holder wrote: ``holder``, ``process``, ``computer``, ``since``.
    """

    def __init__(self, store: str, note: dict[str, Any]) -> None:
        self.note = note
        who = f"{note.get('holder', 'somebody')}, process {note.get('process', '?')} on {note.get('computer', '?')}"
        super().__init__(
            f"{store} is being written by {who}, since {note.get('since', 'a moment ago')}; "
            "wait until it is done, or stop it, and try again"
        )


def _take(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            os.lseek(handle, _FAR, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True


def _note() -> dict[str, Any]:
    try:
        holder = getpass.getuser()
    except (OSError, KeyError):  # no such user in this container
        holder = "somebody"
    return {
        "holder": holder,
        "process": os.getpid(),
        "computer": socket.gethostname(),
        "since": datetime.now().strftime("%Y-%m-%d %H:%M:%S"),
    }


def _read_note(handle: int) -> dict[str, Any]:
    os.lseek(handle, 0, os.SEEK_SET)
    try:
        note = json.loads(os.read(handle, 4096))
    except (ValueError, OSError):
        return {}
    return note if isinstance(note, dict) else {}


def _write_note(handle: int, note: dict[str, Any] | None) -> None:
    os.lseek(handle, 0, os.SEEK_SET)
    os.truncate(handle, 0)
    if note is not None:
        os.write(handle, json.dumps(note).encode())


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


@contextlib.contextmanager
def _locked_folder(store: Path) -> Iterator[dict[str, Any] | None]:
    try:
        store.mkdir(parents=True, exist_ok=True)
        handle = os.open(store / _NAME, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as failed:
        raise StoreError(f"{store} cannot be written: {failed}") from failed
    try:
        if not _take(handle):
            raise StoreLocked(str(store), _read_note(handle))
        left_behind = _read_note(handle) or None
        _write_note(handle, _note())
        try:
            yield left_behind
        finally:
            _write_note(handle, None)  # only a holder that was killed leaves its note behind
    finally:
        os.close(handle)  # gives the lock back


@contextlib.contextmanager
def _noted(store: Place) -> Iterator[dict[str, Any] | None]:
    """Hold a store behind a URL by a note alone: object stores have no locks."""
    content = store.read(_NAME)
    note = json.loads(content) if content else None
    if note is not None:
        is_here = note.get("computer") == socket.gethostname()
        if not is_here or _is_alive(int(note["process"])):
            raise StoreLocked(str(store), note)
    mine = json.dumps(_note()).encode()
    store.write(_NAME, lambda stream: stream.write(mine))
    try:
        yield note
    finally:
        store.remove(_NAME)


@contextlib.contextmanager
def locked(store: Path | str | Place) -> Iterator[dict[str, Any] | None]:
    """
    Hold a store while the block runs.

    Yields
    ------
    dict or None
        The note of a holder that died with the lock in its hand (its lock is stale and was taken over), else None.

    Raises
    ------
    StoreLocked
        Another process holds it; says who and since when.
    StoreError
        The store's folder cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder, locked(Path(folder)) as left_behind:
    ...     print(left_behind)
    None
    """
    place = place_at(store)
    holding = _locked_folder(place.folder) if isinstance(place, FolderPlace) else _noted(place)
    with holding as left_behind:
        yield left_behind
