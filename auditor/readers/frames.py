"""
One frame, read: its picture, the other file of its pair, its sidecars.

Whatever goes wrong with a file becomes its row's problem; no exception of a file's making leaves this module.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Sequence
from functools import partial
from typing import Any, NamedTuple

from auditor.readers.names import as_name
from auditor.readers.picture import Picture, read_picture
from auditor.readers.places import Place
from auditor.readers.problems import Problem
from auditor.readers.records import Record, record
from auditor.readers.remote import is_remote, open_remote
from auditor.readers.window import HEAD_BYTES, Window
from auditor.readers.xmp import MOST_XMP_BYTES, place, rating

__all__ = ["File", "Frame", "failed", "read_frame"]


class File(NamedTuple):
    """A picture's file as the walk saw it: path in its archive, size [byte], time [ns], paths of its sidecars."""

    path: str
    size: int
    mtime_ns: int
    sidecars: tuple[str, ...] = ()


class Frame(NamedTuple):
    """A frame to read: its file, the other file of a raw+JPEG pair, and whether its name leaves a doubt."""

    file: File
    companion: File | None = None
    is_doubtful: bool = False


_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
_ERRORS = {
    errno.EACCES: Problem.NO_PERMISSION,
    errno.EPERM: Problem.NO_PERMISSION,
    errno.ENOENT: Problem.VANISHED,
    errno.ENOTDIR: Problem.VANISHED,
    errno.ESTALE: Problem.VANISHED,
}


def _open(root: str, path: str) -> int:
    # Without blocking: a pipe may have taken the file's place since the walk.
    return os.open(f"{root}/{as_name(path)}", _FLAGS)


def _read_at(handle: int, offset: int, length: int) -> bytes:
    os.lseek(handle, offset, os.SEEK_SET)
    return os.read(handle, length)


def _read_file(root: str, file: File) -> tuple[Picture, tuple[int, int]]:
    """Return a file's picture, and the size and time that belong to what was read."""
    handle = _open(root, file.path)
    try:
        before = os.fstat(handle)
        if not stat.S_ISREG(before.st_mode):
            return Picture({}, {"problem": Problem.NOT_A_PICTURE.value}), (before.st_size, before.st_mtime_ns)
        picture = read_picture(Window(os.read(handle, HEAD_BYTES), before.st_size, partial(_read_at, handle)))
        after = os.fstat(handle)
    finally:
        os.close(handle)
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        picture = Picture({}, {"format": picture.fixed.get("format"), "problem": Problem.CHANGED.value})
    return picture, (before.st_size, before.st_mtime_ns)


def _read_remote_file(root: str, file: File) -> tuple[Picture, tuple[int, int]]:
    opened = open_remote(root, file.path)
    head = opened.read_at(0, HEAD_BYTES)
    return read_picture(Window(head, opened.size, opened.read_at)), (opened.size, opened.mtime_ns)


def failed(file: File, problem: Problem) -> Record:
    """Return the row of a file of which nothing could be read."""
    return Record(file.path, file.size, file.mtime_ns, problem=problem.value)


def _sidecar(root: str, path: str) -> tuple[bytes, int]:
    """Return a sidecar's content and its time; no content when it is not a file or far too long."""
    if is_remote(root):
        opened = open_remote(root, path)
        return opened.read_at(0, opened.size) if opened.size <= MOST_XMP_BYTES else b"", opened.mtime_ns
    handle = _open(root, path)
    try:
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode):
            return b"", 0
        return os.read(handle, MOST_XMP_BYTES) if about.st_size <= MOST_XMP_BYTES else b"", about.st_mtime_ns
    finally:
        os.close(handle)


def _read_sidecars(root: str, paths: Sequence[str]) -> tuple[int | None, Place | None, int]:
    """Return the first rating and the first place in some sidecars, and the newest time of any."""
    found, where, newest_ns = None, None, 0
    for path in paths:
        try:
            content, mtime_ns = _sidecar(root, path)
        except OSError:
            continue
        newest_ns = max(newest_ns, mtime_ns)
        found = rating(content) if found is None else found
        where = place(content) if where is None else where
    return found, where, newest_ns


def _record(root: str, file: File) -> tuple[Record, bool]:
    """Return a file's row, and whether its rating is a sidecar's."""
    try:
        picture, (size, mtime_ns) = (_read_remote_file if is_remote(root) else _read_file)(root, file)
        row = record((file.path, size, mtime_ns), picture.tags, picture.fixed)
    except OSError as refused:
        row = failed(file, _ERRORS.get(refused.errno or 0, Problem.NOT_READABLE))
    except Exception:  # a bug of ours on a hostile file must not cost the archive
        row = failed(file, Problem.NOT_UNDERSTOOD)
    if not file.sidecars:
        return row, False
    beside, where, newest_ns = _read_sidecars(root, file.sidecars)
    row = row._replace(mtime_ns=max(row.mtime_ns, newest_ns))
    if where is not None:
        row = row._replace(latitude_deg=where[0], longitude_deg=where[1])
    return (row, False) if beside is None else (row._replace(rating=beside), True)


_NOT_SHARED = (
    "path",
    "size",
    "mtime_ns",
    "format",
    "companion",
    "image_width_px",
    "image_height_px",
    "problem",
    "rating",
)


def _is_same_exposure(one: Record, other: Record) -> bool:
    if one.captured_at is None or other.captured_at is None:
        return True
    return abs(one.captured_at - other.captured_at) < 1_000_000


def _joined(pair: tuple[Record, bool], other_pair: tuple[Record, bool]) -> Record:
    """Return the one row of a raw+JPEG pair: the raw file's, completed from the other where it is silent."""
    (main, main_beside), (other, other_beside) = pair, other_pair
    fields: dict[str, Any] = {
        column: value
        for column, value in zip(Record._fields, other, strict=True)
        if column not in _NOT_SHARED and getattr(main, column) is None and value is not None
    }
    ratings = (main.rating, other.rating) if main_beside or not other_beside else (other.rating, main.rating)
    problem = main.problem
    if problem == Problem.NOT_READABLE_FORMAT and other.problem is None:
        problem = None  # the other file said everything
    return main._replace(
        **fields,
        companion=other.path,
        mtime_ns=max(main.mtime_ns, other.mtime_ns),
        rating=next((value for value in ratings if value is not None), None),
        problem=problem,
    )


def read_frame(root: str, frame: Frame) -> list[Record]:
    """
    Read a frame.

    Parameters
    ----------
    root : str
        The archive's folder.
    frame : Frame
        As the walk found it.

    Returns
    -------
    list of Record
        One row; two when the files of a supposed pair are of different times; none when a file whose name left a
        doubt is no picture.
    """
    main = _record(root, frame.file)
    if frame.is_doubtful and main[0].problem in (Problem.NOT_A_PICTURE, Problem.EMPTY):
        return []
    if frame.companion is None:
        return [main[0]]
    other = _record(root, frame.companion)
    if _is_same_exposure(main[0], other[0]):
        return [_joined(main, other)]
    return [main[0], other[0]]
