"""Keep the shoot log."""

from __future__ import annotations

from collections.abc import Mapping

from auditor.errors import LogError
from auditor.model.documents import read_text
from auditor.model.log import LogRow
from auditor.model.log_text import with_row
from auditor.model.workspace import LOG_FILE, Workspace
from auditor.storage.atomic import write_text

__all__ = ["add_log_row"]


def add_log_row(workspace: Workspace, values: Mapping[str, str]) -> LogRow:
    """
    Add a row to a workspace's log.csv; the other rows, their order and unknown columns stay as they are.

    Raises
    ------
    LogError
        The row cannot be read, with every problem in it; the file is not changed.
    """
    path = workspace.folder / LOG_FILE
    text = read_text(path, LogError) if path.exists() else ""
    changed, row = with_row(text, values, workspace.kit)
    write_text(path, changed)
    return row
