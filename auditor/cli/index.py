"""``index``: read the Exif of the archives."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.workspace import open_workspace
from auditor.pipeline.indexing import IndexSummary, index_archives

__all__ = ["register", "say_index"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep index ~/steadykeep --jobs 2")
    def index(
        workspace: Folder = Path(),
        jobs: Annotated[int | None, typer.Option(min=1, help="Processes that read.", show_default="all cores")] = None,
        cluster: Annotated[str | None, typer.Option(help="Address of a Dask scheduler that does the work.")] = None,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """Read what is new or changed in the archives; what is unchanged is not opened."""
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        with voice.progress("Reading") as told:
            summary = index_archives(opened.archives, opened.store, jobs=jobs, progress=told, cluster=cluster)
        say_index(voice, summary)
