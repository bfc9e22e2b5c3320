"""Changes to the shoot log, each of which can be taken back as long as nothing else changed the file."""

from __future__ import annotations

import datetime as dt
import re
import secrets
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeAlias

from auditor.errors import SteadykeepError
from auditor.model.log import LogRow
from auditor.model.log_import import LogImport
from auditor.model.workspace import LOG_FILE, Workspace, open_workspace
from auditor.pipeline.shoot_log import add_log_row, import_log, mend_log_row, planned_import, remove_log_row
from dashboards.undoing import Undoable
from dashboards.words import count_of

__all__ = ["Done", "Log", "Preview", "written_values"]

Done: TypeAlias = tuple[str, bool]
"""What came of a change, in words, and whether it was done."""

_NUMBERS = ("setting_mm", "focal_mm", "focus_distance_m", "aperture")
_HELD_PREVIEWS = 8
_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")


@dataclass(frozen=True)
class Preview:
    """
    What a CSV would add to the log.

    Parameters
    ----------
    name : str
        Of the file.
    plan : LogImport or None
        None where the file is no log at all.
    token : str
        By which the decision names it.
    said : str
        Why there is nothing to decide.
    """

    name: str
    plan: LogImport | None = None
    token: str = ""
    said: str = ""


def written_values(values: Mapping[str, str], now: dt.datetime | None = None) -> dict[str, str]:
    """
    Return what a form says as log.csv writes it: an hour alone is of that day, a comma in a number is a point.

    Parameters
    ----------
    values : mapping
        Column to what was typed.
    now : datetime, optional
        Stands for a start that was left empty, and gives the day of an hour alone; without it, neither.

    Examples
    --------
    >>> noon = dt.datetime(2026, 5, 2, 12, 4)
    >>> written_values({"start": "", "end": "13:30", "aperture": "2,8", "note": " "}, noon)
    {'start': '2026-05-02 12:04', 'end': '2026-05-02 13:30', 'aperture': '2.8'}
    """
    written = {name: value.strip() for name, value in values.items() if value and value.strip()}
    for name in _NUMBERS:
        if name in written:
            written[name] = written[name].replace(",", ".")
    if now is None:
        return written
    start = written.get("start", "") or f"{now:%Y-%m-%d %H:%M}"
    start = f"{now:%Y-%m-%d} {start.zfill(5)}" if _CLOCK.fullmatch(start) else start
    if _CLOCK.fullmatch(written.get("end", "")):
        written["end"] = f"{start[:10]} {written['end'].zfill(5)}"
    return {"start": start} | {name: value for name, value in written.items() if name != "start"}


@dataclass(frozen=True, eq=False)
class Log:
    """
    The shoot log of a workspace. Each method but ``preview`` says what came of it, and whether it was done.

    Parameters
    ----------
    folder : Path
        The workspace.
    files : Undoable
        Over log.csv, and perhaps other files.
    """

    folder: Path
    files: Undoable
    _previews: dict[str, tuple[str, str, LogImport]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def _change(self, name: str, do: Callable[[Workspace], str]) -> Done:
        said: list[str] = []
        try:
            self.files.do(name, lambda: said.append(do(open_workspace(self.folder))))
        except SteadykeepError as error:
            return str(error), False
        except OSError as error:
            return _unwritten(error)
        return said[0], True

    def add(self, values: Mapping[str, str]) -> Done:
        """Add a row."""

        def do(workspace: Workspace) -> str:
            row = add_log_row(workspace, written_values(values, dt.datetime.now()))
            return f"Added: {_from(row)} on. It counts from the next audit."

        return self._change("the row that was added", do)

    def mend(self, key: str, values: Mapping[str, str]) -> Done:
        """Write a row anew; its key is as ``auditor.model.log_text.noted_rows`` gave it."""

        def do(workspace: Workspace) -> str:
            row = mend_log_row(workspace, key, written_values(values))
            return f"Saved: {_from(row)} on. It counts from the next audit."

        return self._change("the row that was mended", do)

    def remove(self, key: str) -> Done:
        """Remove a row."""

        def do(workspace: Workspace) -> str:
            remove_log_row(workspace, key)
            return "Removed. It can be taken back, as long as nothing else changes the log."

        return self._change("the row that was removed", do)

    def preview(self, name: str, content: bytes) -> Preview:
        """Say what a CSV would add."""
        with self._lock:
            try:
                incoming = content.decode("utf-8-sig")
                plan = planned_import(open_workspace(self.folder), incoming, name)
            except UnicodeDecodeError:
                return Preview(name, said=f"{name}: not UTF-8. In the spreadsheet, save it as CSV in UTF-8.")
            except SteadykeepError as error:
                return Preview(name, said=str(error))
            while len(self._previews) >= _HELD_PREVIEWS:
                del self._previews[next(iter(self._previews))]
            token = secrets.token_hex(8)
            self._previews[token] = (name, incoming, plan)
            return Preview(name, plan, token)

    def take_in(self, token: str) -> Done:
        """Add what a preview showed."""
        held = self._previews.get(token)
        if held is None:
            return "This preview is no longer held; choose the file again.", False
        name, incoming, shown = held

        def do(workspace: Workspace) -> str:
            rows = count_of(len(import_log(workspace, incoming, name, shown).rows), "row")
            return f"Added {rows} of {name}. They count from the next audit."

        said, done = self._change(f"the rows of {name}", do)
        if done:
            self._previews.pop(token, None)
        return said, done

    def undo(self) -> Done:
        """Take the last change back, or say why not."""
        try:
            return self.files.undo(), True
        except OSError as error:
            return _unwritten(error)


def _unwritten(error: OSError) -> Done:
    return f"{LOG_FILE} cannot be written ({error.strerror}); nothing was changed.", False


def _from(row: LogRow) -> str:
    return f"from {row.start:%Y-%m-%d %H:%M}"
