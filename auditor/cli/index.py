"""``index``: read the Exif of the archives."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Folder, Quiet, Voice
from auditor.model.workspace import open_workspace
from auditor.pipeline.indexing import IndexSummary, index_archives
from auditor.wording import counted

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
        """
        Read what is new or changed in the archives.

        Files whose size and time are as before are not opened. Ctrl-C keeps what was read.
        """
        voice = Voice(as_json, quiet)
        opened = open_workspace(workspace)
        with voice.progress("Reading") as told:
            summary = index_archives(opened.archive_places, opened.store, jobs=jobs, progress=told, cluster=cluster)
        say_index(voice, summary)
        voice.document(asdict(summary))


def say_index(voice: Voice, summary: IndexSummary) -> None:
    """Print what an index run found, and what it could not read and why."""
    rate = f", {summary.read_per_second:,.0f} a second" if summary.read_per_second >= 1 else ""
    voice.say(
        f"{counted(summary.frames, 'frame')}: {summary.new} new, {summary.changed} changed, "
        f"{summary.unchanged} unchanged, "
        f"{summary.gone} gone; {summary.seconds:.1f} s{rate}."
    )
    for reason, count in summary.problems.items():
        voice.say(f"  {count} could not be read whole: {reason}")
    for reason, count in summary.skipped.items():
        voice.say(f"  {count} left aside: {reason}")
    for sentence in (*summary.messages, *(f"given up: {place}" for place in summary.given_up)):
        voice.warn(sentence)
