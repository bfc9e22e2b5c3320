"""Changes to the user's own files, each of which can be taken back as long as nothing else changed the file."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from auditor.errors import SteadykeepError
from auditor.model.workspace import LOG_FILE, open_workspace
from auditor.pipeline.shoot_log import add_log_row
from auditor.storage.atomic import write_text

__all__ = ["Log", "workspace_log"]


@dataclass(frozen=True)
class Log:
    """
    The shoot log of a workspace.

    Parameters
    ----------
    add : callable
        Given a row's values, writes it and says what came of it.
    undo : callable
        Takes the last added row back, or says why not.
    """

    add: Callable[[Mapping[str, str]], str]
    undo: Callable[[], str]


def workspace_log(folder: Path) -> Log:
    """
    Return what adds to a workspace's log.csv and takes back.

    Parameters
    ----------
    folder : Path
        The workspace.
    """
    lock = threading.Lock()
    path = folder / LOG_FILE
    changes: list[tuple[str | None, str]] = []

    def add(values: Mapping[str, str]) -> str:
        with lock:
            before = _text(path)
            try:
                row = add_log_row(open_workspace(folder), {key: value for key, value in values.items() if value})
            except SteadykeepError as error:
                return str(error)
            changes.append((before, _text(path) or ""))
            return f"Added: from {row.start:%Y-%m-%d %H:%M} on. It counts from the next audit."

    def undo() -> str:
        with lock:
            if not changes:
                return "There is nothing to take back."
            before, after = changes[-1]
            if _text(path) != after:
                return "log.csv was changed by something else meanwhile, so the row was left; mend it there."
            changes.pop()
            if before is None:
                path.unlink()
            else:
                write_text(path, before)
            return "The row was taken back."

    return Log(add=add, undo=undo)


def _text(path: Path) -> str | None:
    try:
        return path.read_bytes().decode("utf-8", "surrogateescape")
    except FileNotFoundError:
        return None
