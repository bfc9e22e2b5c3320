"""
Files that are complete or absent: written beside their place, flushed to the disk, then moved over.

A reader, or a computer that loses power, sees either the old content or the new, never half of it.
"""

from __future__ import annotations

import contextlib
import os
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

__all__ = ["TEMPORARY_PREFIX", "replacing", "write_bytes", "write_text"]

TEMPORARY_PREFIX = ".unfinished-"
"""What an unfinished file's name begins with; such a file may be removed when nobody writes."""


@contextlib.contextmanager
def replacing(path: Path) -> Iterator[BinaryIO]:
    """
    Open a file for writing that takes the place of `path` when the block ends without an error.

    Parameters
    ----------
    path : Path
        The file to replace or make. A symbolic link is followed, so that it stays a link. The mode of a file that
        is there is kept.

    Yields
    ------
    BinaryIO
        The unfinished file, in the same folder.

    Raises
    ------
    OSError
        The folder cannot be written or the disk is full; the old file is untouched.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with replacing(Path(folder) / "kit.toml") as kit:
    ...         _ = kit.write(b"[[bodies]]")
    ...     [entry.name for entry in Path(folder).iterdir()]
    ['kit.toml']
    """
    target = path.resolve()
    unfinished = target.with_name(f"{TEMPORARY_PREFIX}{uuid.uuid4().hex}")
    try:
        with unfinished.open("xb") as stream:
            yield stream
            stream.flush()
            with contextlib.suppress(FileNotFoundError):
                unfinished.chmod(target.stat().st_mode & 0o7777)
            os.fsync(stream.fileno())
        unfinished.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            unfinished.unlink()
        raise
    flush_folder(target.parent)


def flush_folder(folder: Path) -> None:
    """Make a rename in a folder last through a loss of power, where the system knows how."""
    if sys.platform == "win32":  # Windows has no handle of a folder to flush
        return
    with contextlib.suppress(OSError):  # some network file systems refuse; the file itself is already safe
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def write_bytes(path: Path, content: bytes) -> None:
    """
    Replace a file by new content, whole or not at all.

    Raises
    ------
    OSError
        As in `replacing`; the old file is untouched.
    """
    with replacing(path) as stream:
        stream.write(content)


def write_text(path: Path, text: str) -> None:
    """
    Replace a file by new UTF-8 text, whole or not at all; line ends are written as they are.

    Raises
    ------
    OSError
        As in `replacing`; the old file is untouched.
    """
    write_bytes(path, text.encode("utf-8"))
