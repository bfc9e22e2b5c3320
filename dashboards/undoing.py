"""Changes to the user's files by a press, each of which can be taken back as long as nothing else changed them."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from auditor.storage.atomic import write_bytes

__all__ = ["Undoable", "undoable"]

_MOST_HELD = 50


@dataclass(frozen=True)
class Undoable:
    """
    Changes to some files.

    Parameters
    ----------
    do : callable
        Given what the change is called and a function that makes it, runs it and remembers the files as they were.
        What the function raises is passed on.
    undo : callable
        Puts the files back as they were before the last change, or says why not.
    """

    do: Callable[[str, Callable[[], object]], None]
    undo: Callable[[], str]


def undoable(paths: Sequence[Path]) -> Undoable:
    """
    Return what changes some files, one change at a time, and takes back.

    Parameters
    ----------
    paths : sequence of Path
        Every file that a change may touch.
    """
    lock = threading.Lock()
    changes: list[tuple[str, dict[Path, tuple[bytes | None, bytes | None]]]] = []

    def do(name: str, change: Callable[[], object]) -> None:
        with lock:
            before = {path: _content(path) for path in paths}
            try:
                change()
            finally:  # a change of two files may have made one of them before it failed
                touched = {path: (was, _content(path)) for path, was in before.items() if _content(path) != was}
                if touched:
                    changes.append((name, touched))
                    del changes[:-_MOST_HELD]

    def undo() -> str:
        with lock:
            if not changes:
                return "There is nothing to take back."
            name, touched = changes[-1]
            others = [path.name for path, (_, after) in touched.items() if _content(path) != after]
            if others:
                return f"{' and '.join(others)} was changed by something else meanwhile, so it was left; mend it there."
            try:
                for path, (was, _) in touched.items():
                    _put_back(path, was)
            except OSError as reason:
                return f"It could not be taken back ({reason.strerror}); the files are as they are."
            changes.pop()
            return f"Taken back: {name}."

    return Undoable(do=do, undo=undo)


def _content(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def _put_back(path: Path, content: bytes | None) -> None:
    if content is None:
        path.unlink()
    else:
        write_bytes(path, content)
