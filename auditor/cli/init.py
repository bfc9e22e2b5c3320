"""``init``: a new workspace."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import AsJson, Quiet, Voice
from auditor.pipeline.starting import start_workspace
from auditor.wording import counted

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep init ~/steadykeep --archive ~/photos/2026")
    def init(
        workspace: Annotated[Path, typer.Argument(help="Folder to make; your kit, log and settings live there.")],
        archive: Annotated[
            list[Path],
            typer.Option(help="Folder of your photographs; read, never written. More may follow."),
        ],
        further: Annotated[list[Path] | None, typer.Argument(metavar="folder", hidden=True)] = None,
        as_json: AsJson = False,
        quiet: Quiet = False,
    ) -> None:
        """
        Make a workspace for your photographs.

        Reads the archive once and starts kit.toml from the bodies and lenses that its Exif names.
        """
        voice = Voice(as_json, quiet)
        archives = [*archive, *(further or [])]
        with voice.progress("Reading") as told:
            started = start_workspace(workspace, archives, progress=told)
        voice.say(
            f"{workspace}: {counted(started.frames, 'frame')} read, {counted(started.bodies, 'body', 'bodies')} and "
            f"{counted(started.lenses, 'lens', 'lenses')} found."
        )
        if started.frames == 0:
            voice.warn(f"no picture was found in {', '.join(map(str, archives))}; is it the right folder?")
        voice.say(f"Next: open {workspace / 'kit.toml'}, add what Exif cannot tell, then: steadykeep audit {workspace}")
        voice.document({"workspace": workspace, **asdict(started)})
