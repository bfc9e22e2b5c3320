"""Change a file of the user's: line ends and mark kept, nothing written over what changed meanwhile."""

from __future__ import annotations

import codecs
from collections.abc import Callable
from pathlib import Path

from auditor.errors import InputError
from auditor.model.documents import read_text
from auditor.storage.atomic import write_bytes

__all__ = ["change_text"]


def change_text(path: Path, change: Callable[[str], str], error: type[InputError]) -> None:
    """
    Replace a file's text by what a function makes of it, whole or not at all.

    Parameters
    ----------
    path : Path
        A missing file is an empty text.
    change : callable
        Given the text with plain line ends; what it raises leaves the file as it is.
    error : type of InputError
        Raised where the file cannot be read or written, or was changed by something else while it was worked on.
    """
    before = path.read_bytes() if path.exists() else b""
    new = change(read_text(path, error) if path.exists() else "")
    if b"\r\n" in before:
        new = new.replace("\r\n", "\n").replace("\n", "\r\n")
    mark = codecs.BOM_UTF8 if before.startswith(codecs.BOM_UTF8) else b""
    if (path.read_bytes() if path.exists() else b"") != before:
        raise error(f"{path.name}: it was changed by something else just now, nothing was written; try again")
    try:
        write_bytes(path, mark + new.encode("utf-8"))
    except OSError as reason:
        raise error(f"{path.name}: it cannot be written ({reason.strerror}); it is as it was") from None
