"""Lay out the sample library as a workspace."""

from __future__ import annotations

from pathlib import Path

from auditor.errors import WorkspaceError
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
        The workspace: the folder itself, with the archive as a folder in it.

    Raises
    ------
    WorkspaceError
        The folder holds something else.
    """
    if (folder / _MARK).is_file():
        return folder
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise WorkspaceError(
            f"{folder}: holds something else; nothing was changed", ["name a new folder: steadykeep demo NEW-FOLDER"]
        )
    generate(folder)
    # Written last: a folder without it was not finished and is refused above rather than taken for whole.
    (folder / _MARK).write_text("Made by steadykeep demo; the whole folder may be deleted.\n", encoding="utf-8")
    return folder
