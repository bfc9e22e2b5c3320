"""Lay out the sample library as a workspace."""

from __future__ import annotations

import shutil
from pathlib import Path

from auditor.errors import WorkspaceError
from auditor.model.workspace import KIT_FILE, LOG_FILE, SETTINGS_FILE
from sample_library import generate

__all__ = ["lay_out_sample"]

_MARK = ".sample-library"


def lay_out_sample(folder: Path) -> Path:
    """
    Generate the sample library into a folder, unless it is there already.

    Parameters
    ----------
    folder : Path
        New, empty, or made by an earlier call.

    Returns
    -------
    Path
        The workspace inside it.

    Raises
    ------
    WorkspaceError
        The folder holds something else.
    """
    workspace = folder / "workspace"
    if (folder / _MARK).is_file():
        return workspace
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise WorkspaceError(
            f"{folder}: holds something else; nothing was changed", ["name a new folder: steadykeep demo NEW-FOLDER"]
        )
    made = generate(folder)
    workspace.mkdir(exist_ok=True)
    for source, name in ((made.kit, KIT_FILE), (made.log, LOG_FILE), (made.settings, SETTINGS_FILE)):
        if source.resolve() != (workspace / name).resolve():
            shutil.move(source, workspace / name)
    # Written last: a folder without it was not finished and is refused above rather than taken for whole.
    (folder / _MARK).write_text("Made by steadykeep demo; may be deleted.\n", encoding="utf-8")
    return workspace
