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
        host: Annotated[
            str, typer.Option(help="Address to serve on; any but this machine's own needs a key, which is made.")
        ] = HOST,
        open_page: Annotated[
            bool | None, typer.Option("--open/--no-open", help="Open the page.", show_default="from a terminal")
        ] = None,
        quiet: Quiet = False,
    ) -> None:
        """
        Serve the pages until Ctrl-C.

        On this machine alone, if not told otherwise.
        """
        serve_pages(Voice(quiet=quiet), open_workspace(workspace), port, open_page=open_page, host=host)


def serve_pages(voice: Voice, workspace: Workspace, port: int, *, open_page: bool | None, host: str = HOST) -> None:
    """
    Serve a workspace's pages until interrupted.

    On an address that others reach, a key is made; it is told once, as a link, and kept nowhere.

    Raises
    ------
    InputError
        The port is taken, or the address is not this machine's.
    """
    # Imported here: the web libraries take seconds to load, which no other command should wait for.
    from dashboards.app import create_app
    from dashboards.serve import is_this_machine, link_of, new_key, serve
    from dashboards.watched import workspace_desk

    _refuse_taken(host, port)
    app = create_app(workspace_desk(workspace.folder))
    key = None if is_this_machine(host) else new_key()
    address = link_of(host, port, key) if key else f"http://{f'[{host}]' if ':' in host else host}:{port}/"
    if key:
        _say_exposed(voice, address)
    else:
        voice.say(f"The pages are at {address} - press Ctrl-C to stop.")
    if sys.stdout.isatty() if open_page is None else open_page:
        waiting = threading.Timer(1.0, webbrowser.open, [address])
        waiting.daemon = True
        waiting.start()
    serve(app, host, port, key)


def _say_exposed(voice: Voice, link: str) -> None:
    voice.warn(
        "These pages can be reached from other machines. Whoever has this link can look at every picture, see\n"
        "where it was made (to about a kilometre), read kit, log and audit, add to and change the shoot log and the\n"
        "answers, and start the index:\n"
        f"  {link}\n"
        "It is shown once and holds until Ctrl-C. Nothing is encrypted on the way: whoever listens on the network can\n"
        "read the pages and the link. Serve only on a network that you trust (common practice)."
    )


def _refuse_taken(host: str, port: int) -> None:
    try:
        family, _, _, _, place = socket.getaddrinfo(host.strip("[]"), port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family) as probe:
            taken = probe.connect_ex(place) == 0
        if not taken and host != HOST:
            with socket.create_server(place[:2], family=family):
                pass
    except OSError as reason:
        raise InputError(
            f"{host} is no address that this machine can serve on ({reason.strerror})",
            ["0.0.0.0 stands for all of its addresses; without --host it is this machine alone"],
        ) from None
    if taken:
        raise InputError(
            f"port {port} is taken, perhaps by pages already open",
            [f"look at http://{host}:{port}/ or choose another, such as --port {port % 65535 + 1}"],
        )
