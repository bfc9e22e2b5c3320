"""``season``: the report of a year."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.workspace import open_workspace
from auditor.pipeline.season import write_season
from auditor.wording import counted

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep season season-2026.pdf ~/steadykeep --year 2026")
    def season(
        file: Annotated[Path, typer.Argument(metavar="FILE", help="Ends in .html or .pdf.")],
        workspace: Folder = Path(),
        year: Annotated[int | None, typer.Option(help="Which year.", show_default="the latest")] = None,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Write the report of a year.

        Lenses, settings, keep rates and costs.

        One file that needs no other and prints well. A PDF is printed with a Chromium browser, where there is one.
        """
        voice = Voice(as_json, quiet)
        found = write_season(open_workspace(workspace), file, year)
        frames, trips = counted(found.frames, "frame"), counted(len(found.trips), "trip")
        voice.say(f"{file}: the season {found.year}, {frames} on {trips}.")
        voice.document(
            {
                "file": file,
                "year": found.year,
                "frames": found.frames,
                "judged": found.judged,
                "kept": found.kept,
                "setting_wrong": found.wrong,
                "blur_likely": found.blur_likely,
                "stops_lost_median": found.stops_lost,
                "trips": len(found.trips),
                "lenses": len(found.lenses),
            }
        )
