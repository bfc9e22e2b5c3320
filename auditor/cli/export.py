"""``export``: tables for other programs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import pandas as pd
import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.corrections.tables import FORMATS
from auditor.errors import InputError, nearest
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.exporting import (
    DETAILED,
    SUMMARIES,
    dictionary_beside,
    export_rows,
    export_workspace,
    writable_target,
)

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep export frames.xlsx ~/steadykeep")
    def export(
        file: Annotated[Path, typer.Argument(metavar="FILE", help="Ends in .csv, .parquet or .xlsx.")],
        workspace: Folder = Path(),
        table: Annotated[str, typer.Option(help="Which table; a wrong name lists them all.")] = "frames",
        places: Annotated[
            bool, typer.Option("--places", help="With where each frame was made, to about 1 km.")
        ] = False,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Write a table into a file.

        One row a frame, or any table of the pages.

        Without --table it is everything that was recorded, found and measured, one row a frame; where the frames were
        made only with --places. A second file beside it, FILE-columns.csv, says what each column means. Text that a
        spreadsheet would take for a formula is made harmless in CSV and XLSX.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        if places and table != "frames":
            raise InputError(f'the table "{table}" holds no places; nothing was exported', ["leave --places away"])
        if table in DETAILED or table in SUMMARIES:
            rows = export_workspace(opened, file, table=table, places=places)
        else:
            writable_target(opened, file, tuple(FORMATS))
            rows = _export_page(opened, file, table)
        what = "frames" if table == "frames" else "rows"
        voice.say(f"{file}: {rows} {what}. What the columns mean: {dictionary_beside(file)}")
        if places:
            voice.say("It holds where the frames were made, to about a kilometre: mind whom you give it to.")
        voice.document({"file": file, "columns": dictionary_beside(file), "table": table, what: rows, "places": places})


def _export_page(workspace: Workspace, file: Path, table: str) -> int:
    # Imported here: the web libraries take seconds to load, which no other table should wait for.
    from auditor.storage.datasets import read_table
    from dashboards.desk import desk_of
    from dashboards.downloads import FLAGGED, TABLES
    from dashboards.filters import Filters
    from dashboards.flagged import flagged_frames

    known = (*DETAILED, *SUMMARIES, *TABLES, FLAGGED)
    if table not in known:
        raise InputError(
            f'there is no table "{table}"{nearest(table, known)}; nothing was exported',
            [f"the tables are {', '.join(sorted(known))}"],
        )
    frames, audit = (read_table(workspace.store, name) for name in ("frames", "audit"))
    desk, everything = desk_of(frames, audit, workspace.kit), Filters()
    rows: pd.DataFrame
    if table == FLAGGED:
        rows = flagged_frames(desk, everything, 0, len(desk.frames)).drop(columns="place")
    else:
        rows = TABLES[table](desk, everything)
    export_rows(workspace, rows, file, name=table, is_summary=table != FLAGGED)
    return len(rows)
