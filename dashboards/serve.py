"""Serving the pages: on this machine only, behind the guard, warm before the first request."""

from __future__ import annotations

import ipaddress

from dash import Dash
from waitress import serve as listen

from auditor.errors import InputError
from dashboards.guard import Door, guarded

__all__ = ["behind_the_guard", "is_this_machine", "serve"]

_THREADS = 8


def is_this_machine(host: str) -> bool:
    """
    Return whether an address can be reached from this machine alone.

    Examples
    --------
    >>> is_this_machine("127.0.0.1"), is_this_machine("localhost"), is_this_machine("0.0.0.0")
    (True, True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def behind_the_guard(app: Dash, port: int, key: str | None = None) -> object:
    """
    Return the app as a guarded WSGI application, warmed up.

    The first request is made here: it settles which inline scripts the policy must name, and keeps
    several first requests at once from meeting a half-made app.

    Parameters
    ----------
    app : Dash
        Made by ``create_app``.
    port : int
    key : str, optional
        Needed to look at the pages where they are served on more than this machine.
    """
    app.server.test_client().get("/")
    return guarded(app.server, Door(port=port, script_hashes=tuple(app.csp_hashes()), key=key))


def serve(app: Dash, host: str = "127.0.0.1", port: int = 8050, key: str | None = None) -> None:
    """
    Serve the pages until interrupted.

    Parameters
    ----------
    app : Dash
        Made by ``create_app``.
    host : str
        Address to listen on. Anything but this machine itself needs a key.
    port : int
    key : str, optional
        The secret part of the address, ``http://host:port/?key=…``.

    Raises
    ------
    InputError
        When the pages would be open to others without a key.
    """
    if not is_this_machine(host) and not key:
        raise InputError(
            f"{host} can be reached by others: nothing was served",
            ["every frame's name, time and place in the kit, and its picture, would be open to them",
             "serve on 127.0.0.1, or give a key that only you hand out"],
        )  # fmt: skip
    listen(behind_the_guard(app, port, key), host=host, port=port, threads=_THREADS, ident=None)
