r"""
Names of files as text that any table and screen can hold, and back.

A file's name on Unix is bytes and need not be UTF-8; a table's text must be. In the `path` column a backslash therefore
begins an escape, and nothing else does:

=========  ==========================================================================
``\\``     a backslash in the name itself
``\xe9``   a byte that is not UTF-8, two lower-case hexadecimal digits
``\ud800`` half a surrogate pair (such names exist on Windows), four digits
=========  ==========================================================================

Ordinary names, accents and all, stand as they are; ``/`` parts the folders on every system.
"""

from __future__ import annotations

import re
from pathlib import Path

__all__ = ["as_name", "as_text", "file_at"]

_UNFIT = re.compile("[\\\\\ud800-\udfff]")
_ESCAPE = re.compile(r"\\(\\|x[89a-f][0-9a-f]|ud[89a-f][0-9a-f]{2})")


def _escape(found: re.Match[str]) -> str:
    code = ord(found.group())
    if code == ord("\\"):
        return "\\\\"
    return f"\\x{code - 0xDC00:02x}" if 0xDC80 <= code <= 0xDCFF else f"\\u{code:04x}"


def _original(found: re.Match[str]) -> str:
    kind, digits = found.group(1)[0], found.group(1)[1:]
    if kind == "\\":
        return "\\"
    return chr(int(digits, 16) + (0xDC00 if kind == "x" else 0))


def as_text(name: str) -> str:
    r"""
    Return a file's name, as Python's `os` functions give it, as text for a table.

    Examples
    --------
    >>> as_text("2026/Zürich.jpg")
    '2026/Zürich.jpg'
    >>> print(as_text("caf\udce9.jpg"))
    caf\xe9.jpg
    """
    return name if name.isascii() and "\\" not in name else _UNFIT.sub(_escape, name)


def as_name(text: str) -> str:
    r"""
    Return the file's name, as Python's `os` functions take it, from the text in a table.

    Examples
    --------
    >>> as_name(as_text("caf\udce9.jpg")) == "caf\udce9.jpg"
    True
    """
    return _ESCAPE.sub(_original, text) if "\\" in text else text


def file_at(archive: Path, path: str) -> Path:
    """
    Return the file that a row's path names.

    Examples
    --------
    >>> file_at(Path("/photos"), "2026/one.jpg").as_posix()
    '/photos/2026/one.jpg'
    """
    return archive / as_name(path)
