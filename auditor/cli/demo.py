"""``demo``: the sample library, from its making to its pages."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.audit import say_gaps, say_summary
from auditor.cli.dashboard import PORT, Port, serve_pages
from auditor.cli.index import say_index
from auditor.cli.voice import AsJson, Quiet, Voice
from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import audit_workspace
from auditor.pipeline.demo import lay_out_sample
from auditor.pipeline.indexing import index_archives

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep demo ~/steadykeep-demo")
    def demo(
        folder: Annotated[Path, typer.Argument(help="Folder to make the sample library in.")] = Path("steadykeep-demo"),
        serve: Annotated[bool, typer.Option("--serve/--no-serve", help="Serve the pages at the end.")] = True,
        port: Port = PORT,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """Make the sample library, read it, audit it, and show its pages."""
        voice = Voice(as_json, quiet)
        opened = open_workspace(lay_out_sample(folder))
        voice.say(f"The sample library lies in {folder}: invented photographs, lenses and places.")
        with voice.progress("Reading") as told:
            read = index_archives(opened.archives, opened.store, progress=told)
        say_index(voice, read)
        say_gaps(voice, opened)
        summary = audit_workspace(opened)
        say_summary(voice, summary)
        voice.say(f"Its workspace is {opened.folder}: look at kit.toml, log.csv and settings.toml there.")
        voice.document({"workspace": opened.folder, "frames": summary.frames, "setting_wrong": summary.setting_wrong})
        if serve:
            serve_pages(voice, opened, port, open_page=None)
