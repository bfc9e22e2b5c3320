"""``init``: a new workspace."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Quiet, Voice
from auditor.pipeline.starting import start_workspace

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep init ~/steadykeep --archive ~/photos/2026")
    def init(
        workspace: Annotated[Path, typer.Argument(help="Folder to make; your kit, log and settings live there.")],
        archive: Annotated[
            list[Path], typer.Option(help="Folder of your photographs; read, never written. May be given again.")
        ],
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Make a workspace for your photographs.

        Reads the archive once and starts kit.toml from the bodies and lenses that its Exif names.
        """
        voice = Voice(as_json, quiet)
        with voice.progress("Reading") as told:
            started = start_workspace(workspace, archive, progress=told)
        voice.say(
            f"{workspace}: {started.frames} frames read, {started.bodies} bodies and {started.lenses} lenses found."
        )
        if started.frames == 0:
            voice.warn(f"no picture was found in {', '.join(map(str, archive))}; is it the right folder?")
        voice.say(f"Next: open {workspace / 'kit.toml'}, add what Exif cannot tell, then: steadykeep audit {workspace}")
        voice.document({"workspace": workspace, **asdict(started)})
