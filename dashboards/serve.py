"""Serving the pages: on this machine only, behind the guard, warm before the first request."""

from __future__ import annotations

import ipaddress
import logging
import secrets
import socket

from dash import Dash
from waitress import serve as listen

from auditor.errors import InputError
from dashboards.guard import Door, guarded

__all__ = ["behind_the_guard", "is_this_machine", "link_of", "new_key", "serve"]

_THREADS = 8
_EVERYWHERE = frozenset({"0.0.0.0", "::", "[::]"})  # noqa: S104


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


def new_key() -> str:
    """Return a secret that nobody guesses, for the address of pages that are served to others."""
    return secrets.token_urlsafe(32)


def link_of(host: str, port: int, key: str) -> str:
    """
    Return the address that lets a visitor in.

    Where the pages are served on every address of this machine, the one that others probably reach.

    Examples
    --------
    >>> link_of("192.0.2.7", 8050, "open-sesame"), link_of("2001:db8::7", 8050, "open-sesame")
    ('http://192.0.2.7:8050/?key=open-sesame', 'http://[2001:db8::7]:8050/?key=open-sesame')
    """
    name = _outward() if host in _EVERYWHERE else host.strip("[]")
    return f"http://{f'[{name}]' if ':' in name else name}:{port}/?key={key}"


def _outward() -> str:
    """Return the address under which this machine speaks to others; asking the system sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: an address that is nobody's
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()


def _names(host: str) -> tuple[str, ...]:
    own = socket.gethostname().lower()
    return (host.lower(), own, f"{own.partition('.')[0]}.local")


def behind_the_guard(app: Dash, port: int, key: str | None = None, host: str = "127.0.0.1") -> object:
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
    host : str
        Address that is listened on, which with a key is one of the names that requests may come under.
    """
    app.server.test_client().get("/")
    door = Door(port=port, script_hashes=tuple(app.csp_hashes()), key=key, names=_names(host) if key else ())
    return guarded(app.server, door)


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
            ["every frame's picture, name, time and place, kit and log would be open to them, to read and to change",
             "serve on 127.0.0.1, or give a key that only you hand out"],
        )  # fmt: skip
    # A browser asks for more at once than there are threads; that a few requests wait is no news for a terminal.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    listen(behind_the_guard(app, port, key, host), host=host, port=port, threads=_THREADS, ident=None)
