"""Write the joined table of frames and audit for other programs."""

from __future__ import annotations

from pathlib import Path

from auditor.corrections.tables import FORMATS, write_table
from auditor.errors import InputError
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import joined_table
from auditor.storage.atomic import replacing

__all__ = ["export_workspace"]


def export_workspace(workspace: Workspace, target: Path) -> int:
    """
    Write the joined table, whole or not at all.

    Parameters
    ----------
    workspace : Workspace
    target : Path
        Ends in .csv, .parquet or .xlsx.

    Returns
    -------
    int
        Frames written.

    Raises
    ------
    InputError
        The ending is another, the folder does not exist, or it lies inside an archive.
    """
    kind = target.suffix.removeprefix(".").lower()
    problems = []
    if kind not in FORMATS:
        problems.append(f'"{target.name}" should end in .{", .".join(FORMATS)}')
    whole = target.resolve()
    if not whole.parent.is_dir():
        problems.append(f"{whole.parent}: there is no such folder")
    problems += [
        f"{target} lies inside the archive {folder}, which is never written to"
        for folder in workspace.archives.values()
        if folder.resolve() in whole.parents
    ]
    if problems:
        raise InputError("nothing was exported", problems)
    rows = joined_table(workspace)
    with replacing(target) as out:
        write_table(rows, kind, out)
    return len(rows)
