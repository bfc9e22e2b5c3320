"""``export``: the joined table for other programs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.workspace import open_workspace
from auditor.pipeline.exporting import export_workspace

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep export frames.xlsx ~/steadykeep")
    def export(
        file: Annotated[Path, typer.Argument(metavar="FILE", help="Ends in .csv, .parquet or .xlsx.")],
        workspace: Folder = Path(),
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Write one row a frame into a file.

        Holds what was recorded and what the audit found. Text that a spreadsheet would take for a formula is made
        harmless in CSV and XLSX.
        """
        voice = Voice(as_json, quiet)
        frames = export_workspace(open_workspace(workspace), file)
        voice.say(f"{file}: {frames} frames.")
        voice.document({"file": file, "frames": frames})
