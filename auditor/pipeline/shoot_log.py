"""Keep the shoot log: rows added, mended, removed, taken over from another CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from pathlib import Path

import pandas as pd

from auditor.corrections.tables import harmless
from auditor.errors import LogError
from auditor.model.documents import read_text
from auditor.model.log import LOG_COLUMNS, LogRow, column_separator
from auditor.model.log_import import LogImport, plan_import
from auditor.model.log_text import (
    Noted,
    noted_rows,
    row_values,
    with_row,
    with_row_mended,
    with_rows,
    without_row,
)
from auditor.model.workspace import LOG_FILE, Workspace
from auditor.storage.atomic import write_text

__all__ = [
    "add_log_row",
    "change_log",
    "import_log",
    "log_csv",
    "log_rows",
    "log_text",
    "mend_log_row",
    "planned_import",
    "remove_log_row",
]

_MARK = "\ufeff"  # the byte-order mark by which some spreadsheets know UTF-8


def log_text(workspace: Workspace) -> str:
    """
    Return the text of a workspace's log.csv, empty where there is none.

    Raises
    ------
    LogError
        It cannot be read.
    """
    path = workspace.folder / LOG_FILE
    if not path.exists():
        return ""
    read_text(path, LogError)  # refuses what is not text; it also makes all line ends alike, which a change must not
    return path.read_bytes().decode("utf-8-sig")


def log_rows(workspace: Workspace) -> tuple[Noted, ...]:
    """
    Return the rows of a workspace's log.csv as they stand in it, those that cannot be read among them.

    Raises
    ------
    LogError
        It cannot be read at all.
    """
    return noted_rows(log_text(workspace), workspace.kit)


def change_log(workspace: Workspace, change: Callable[[str], str]) -> None:
    """
    Change a workspace's log.csv, whole or not at all; a byte-order mark stays.

    Raises
    ------
    LogError
        The change refuses, or another program wrote the file in the meantime; nothing is written.
    """
    path = workspace.folder / LOG_FILE
    before = _bytes(path)
    text = log_text(workspace)
    changed = change(text)
    if changed == text:
        return
    if _bytes(path) != before:
        raise LogError(f"{LOG_FILE} was changed by something else at this moment, nothing was written; try again")
    write_text(path, (_MARK if (before or b"").startswith(_MARK.encode()) else "") + changed)


def _bytes(path: Path) -> bytes | None:
    return path.read_bytes() if path.exists() else None


def add_log_row(workspace: Workspace, values: Mapping[str, str]) -> LogRow:
    """
    Add a row to a workspace's log.csv; the other rows, their order and unknown columns stay as they are.

    Raises
    ------
    LogError
        The row cannot be read, with every problem in it; the file is not changed.
    """
    return _changed(workspace, lambda text: with_row(text, values, workspace.kit))


def mend_log_row(workspace: Workspace, key: str, values: Mapping[str, str]) -> LogRow:
    """
    Write a row of a workspace's log.csv anew; everything else stays as it is.

    Parameters
    ----------
    workspace : Workspace
    key : str
        Of the row, as in ``log_rows``.
    values : mapping of str to str
        As in ``auditor.model.log_text.with_row_mended``.

    Raises
    ------
    LogError
        The row was changed meanwhile, or cannot be read as it would be; the file is not changed.
    """
    return _changed(workspace, lambda text: with_row_mended(text, key, values, workspace.kit))


def _changed(workspace: Workspace, change: Callable[[str], tuple[str, LogRow]]) -> LogRow:
    rows: list[LogRow] = []

    def changed(text: str) -> str:
        after, row = change(text)
        rows.append(row)
        return after

    change_log(workspace, changed)
    return rows[0]


def remove_log_row(workspace: Workspace, key: str) -> None:
    """
    Remove a row from a workspace's log.csv.

    Raises
    ------
    LogError
        The row was changed meanwhile; the file is not changed.
    """
    change_log(workspace, lambda text: without_row(text, key))


def planned_import(workspace: Workspace, incoming: str, source: str) -> LogImport:
    """
    Say which rows of a CSV would be added to a workspace's log.

    Raises
    ------
    LogError
        The CSV is not a log at all, or log.csv cannot be read.
    """
    return plan_import(log_text(workspace), incoming, workspace.kit, source)


def import_log(workspace: Workspace, incoming: str, source: str, shown: LogImport | None = None) -> LogImport:
    """
    Add the new rows of a CSV to a workspace's log.

    Parameters
    ----------
    workspace : Workspace
    incoming : str
        The CSV's text.
    source : str
        The CSV's name.
    shown : LogImport, optional
        What was shown before the decision; where it is no longer what would be done, nothing is.

    Raises
    ------
    LogError
        As in ``planned_import``; or there is nothing to add, or the log was changed meanwhile.
    """
    plans: list[LogImport] = []

    def changed(text: str) -> str:
        plan = plan_import(text, incoming, workspace.kit, source)
        if shown is not None and plan != shown:
            raise LogError(f"{LOG_FILE} or the kit was changed meanwhile, nothing was written; choose the file again")
        if not plan.rows:
            raise LogError(f"{source}: no row is new, nothing was written", plan.refused)
        plans.append(plan)
        return with_rows(text, [row_values(row) for row in plan.rows], workspace.kit)[0]

    change_log(workspace, changed)
    return plans[0]


def log_csv(workspace: Workspace) -> bytes:
    """
    Return a workspace's log for a spreadsheet: every column, nothing in it that would be run.

    Raises
    ------
    LogError
        It cannot be read.
    """
    text = log_text(workspace)
    separator = column_separator(text) if text.strip() else ","
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator)) or [list(LOG_COLUMNS)]
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=separator, lineterminator="\r\n")
    for row in rows:
        writer.writerow(harmless(pd.Series(row, dtype="str")).tolist())
    return (_MARK + out.getvalue()).encode()
