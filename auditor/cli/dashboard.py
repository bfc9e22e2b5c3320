"""``dashboard``: the pages, served on this machine."""

from __future__ import annotations

import socket
import sys
import threading
import webbrowser
from pathlib import Path
from typing import Annotated

import typer

from auditor.cli.voice import Folder, Quiet, Voice
from auditor.errors import InputError
from auditor.model.workspace import Workspace, open_workspace

__all__ = ["HOST", "PORT", "Port", "register", "serve_pages"]

HOST, PORT = "127.0.0.1", 8050

Port = Annotated[int, typer.Option(min=1, max=65535, help="Where on this machine the pages are served.")]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command(epilog="Example: steadykeep dashboard ~/steadykeep")
    def dashboard(
        workspace: Folder = Path(),
        port: Port = PORT,
        open_page: Annotated[
            bool | None, typer.Option("--open/--no-open", help="Open the page.", show_default="from a terminal")
        ] = None,
        quiet: Quiet = False,
    ) -> None:
        """Serve the pages on this machine until Ctrl-C."""
        serve_pages(Voice(quiet=quiet), open_workspace(workspace), port, open_page=open_page)


def serve_pages(voice: Voice, workspace: Workspace, port: int, *, open_page: bool | None) -> None:
    """
    Serve a workspace's pages until interrupted.

    Raises
    ------
    InputError
        The port is taken.
    """
    # Imported here: the web libraries take seconds to load, which no other command should wait for.
    from dashboards.app import create_app
    from dashboards.serve import serve
    from dashboards.watched import workspace_desk

    _refuse_taken(port)
    app = create_app(workspace_desk(workspace.folder))
    address = f"http://{HOST}:{port}/"
    voice.say(f"The pages are at {address} - press Ctrl-C to stop.")
    if sys.stdout.isatty() if open_page is None else open_page:
        waiting = threading.Timer(1.0, webbrowser.open, [address])
        waiting.daemon = True
        waiting.start()
    serve(app, HOST, port)


def _refuse_taken(port: int) -> None:
    with socket.socket() as probe:
        if probe.connect_ex((HOST, port)) == 0:
            raise InputError(
                f"port {port} is taken, perhaps by pages already open",
                [f"look at http://{HOST}:{port}/ or choose another, such as --port {port % 65535 + 1}"],
            )
