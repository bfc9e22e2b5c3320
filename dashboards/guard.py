"""What stands between a request and the pages: who may ask, from where, how much, and what the answer may do."""

from __future__ import annotations

import hmac
import ipaddress
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from http import HTTPStatus
from http.cookies import CookieError, SimpleCookie
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

__all__ = ["LOOPBACK", "MOST_BYTES", "Door", "content_security_policy", "guarded"]

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
"""Names under which this machine is itself; any other Host header is a page trying DNS rebinding."""

MOST_BYTES = 8 * 2**20
"""Largest request that is read. [byte]"""

_READING = frozenset({"GET", "HEAD", "OPTIONS"})


@dataclass(frozen=True)
class Door:
    """
    Who may come in.

    Parameters
    ----------
    port : int
        The port that the Host header must name.
    script_hashes : tuple of str
        Inline scripts that may run, as ``'sha256-…'``.
    key : str, optional
        Where the pages are served on more than this machine: the secret that a visitor must bring once, as
        ``?key=…``, and then has in a cookie that no script can read and no other site's request brings along.
    names : tuple of str
        Where there is a key, the names under which this machine is asked for besides its addresses. A page that
        tries DNS rebinding comes under a name of its own, never under a bare address.
    """

    port: int
    script_hashes: tuple[str, ...] = ()
    key: str | None = None
    names: tuple[str, ...] = ()


def content_security_policy(script_hashes: Iterable[str]) -> str:
    """
    Return the policy sent with every answer: nothing from elsewhere, no inline script but the ones named.

    Styles may be inline: the component libraries inject theirs.

    Examples
    --------
    >>> content_security_policy([]).split("; ")[:2]
    ["default-src 'none'", "script-src 'self'"]
    """
    scripts = " ".join(["'self'", *script_hashes])
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
        "font-src 'self' data:; connect-src 'self'; worker-src 'self' blob:; frame-ancestors 'none'; "
        "base-uri 'none'; form-action 'none'; object-src 'none'"
    )


def guarded(app: WSGIApplication, door: Door) -> WSGIApplication:
    """
    Put the guard before a WSGI application.

    Parameters
    ----------
    app : WSGI application
    door : Door

    Returns
    -------
    WSGI application
        Refuses with 421 a Host that is not this machine, 403 another site's request, 415 a body that is not
        JSON, 413 one that is too big or of unknown size, 401 a missing key; else passes on. Every answer
        carries the security headers.
    """
    headers = [
        ("Content-Security-Policy", content_security_policy(door.script_hashes)),
        ("X-Content-Type-Options", "nosniff"),
        ("Referrer-Policy", "no-referrer"),
        ("X-Frame-Options", "DENY"),
        ("Cross-Origin-Opener-Policy", "same-origin"),
        ("Cross-Origin-Resource-Policy", "same-origin"),
    ]

    def behind_guard(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        def start_with_headers(status: str, given: list[tuple[str, str]], exc_info: Any = None) -> Any:
            names = {name.lower() for name, _ in headers}
            kept = [pair for pair in given if pair[0].lower() not in names | {"server"}]
            return start_response(status, kept + headers, exc_info)

        refused = _refusal(environ, door)
        if refused is not None:
            return _answer(start_with_headers, *refused)
        if door.key and _brings_key(environ, door) == "in the address":
            return _let_in(start_with_headers, door)
        return app(environ, start_with_headers)

    return behind_guard


def _refusal(environ: WSGIEnvironment, door: Door) -> tuple[HTTPStatus, str] | None:
    for check in (_host, _key, _site, _body):
        refused = check(environ, door)
        if refused is not None:
            return refused
    return None


def _host(environ: WSGIEnvironment, door: Door) -> tuple[HTTPStatus, str] | None:
    named = str(environ.get("HTTP_HOST", "")).lower()
    name = named.removesuffix(f":{door.port}")
    if (name != named or door.port == 80) and (name in LOOPBACK or (door.key and _is_ours(name, door))):
        return None
    return HTTPStatus.MISDIRECTED_REQUEST, "This machine is not called that. Open the address that steadykeep printed."


def _is_ours(name: str, door: Door) -> bool:
    try:
        ipaddress.ip_address(name[1:-1] if name.startswith("[") and name.endswith("]") else name)
    except ValueError:
        return name in door.names
    return True


def _key(environ: WSGIEnvironment, door: Door) -> tuple[HTTPStatus, str] | None:
    if not door.key or _brings_key(environ, door):
        return None
    return HTTPStatus.UNAUTHORIZED, "These pages need a key. Open the whole address that steadykeep printed."


def _site(environ: WSGIEnvironment, door: Door) -> tuple[HTTPStatus, str] | None:
    site = environ.get("HTTP_SEC_FETCH_SITE", "")
    refused = HTTPStatus.FORBIDDEN, "Another site may not ask for this."
    if environ["REQUEST_METHOD"] not in _READING:
        origin, own = environ.get("HTTP_ORIGIN"), f"{environ['wsgi.url_scheme']}://{environ.get('HTTP_HOST', '')}"
        trusted = origin == own if origin is not None else site == "same-origin"
        return None if trusted and site in {"", "same-origin"} else refused
    opens_a_page = environ.get("HTTP_SEC_FETCH_MODE") == "navigate" and environ.get("HTTP_SEC_FETCH_DEST") == "document"
    return None if site in {"", "none", "same-origin"} or opens_a_page else refused


def _body(environ: WSGIEnvironment, door: Door) -> tuple[HTTPStatus, str] | None:
    if environ["REQUEST_METHOD"] in _READING:
        return None
    if str(environ.get("CONTENT_TYPE", "")).split(";")[0].strip().lower() != "application/json":
        return HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "Only JSON is taken."
    length = str(environ.get("CONTENT_LENGTH") or "")
    if not (length.isascii() and length.isdecimal()) or int(length) > MOST_BYTES:
        return HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"At most {MOST_BYTES // 2**20} MB at once, of a known size."
    return None


def _cookie(door: Door) -> str:
    return f"steadykeep-key-{door.port}"  # a browser sends a cookie to every port of a machine


def _brings_key(environ: WSGIEnvironment, door: Door) -> str:
    """Return where a visitor brings the key: "in a cookie", "in the address" or nowhere, an empty string."""
    key = (door.key or "").encode()
    try:
        cookie = SimpleCookie(str(environ.get("HTTP_COOKIE", ""))).get(_cookie(door))
    except CookieError:
        cookie = None
    if cookie is not None and hmac.compare_digest(cookie.value.encode(), key):
        return "in a cookie"
    if environ["REQUEST_METHOD"] not in _READING:
        return ""
    given = parse_qs(str(environ.get("QUERY_STRING", ""))).get("key", [""])[0]
    return "in the address" if hmac.compare_digest(given.encode(), key) else ""


_OPENING = b"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>steadykeep</title><meta http-equiv="refresh" content="0;url=/">
</head><body><p><a href="/">Open the pages</a></p></body></html>"""


def _let_in(start: Callable[..., Any], door: Door) -> Iterable[bytes]:
    """
    Keep the key in a cookie and open the pages anew without it, so that it stays out of bookmarks.

    By a page and not by a redirection: on one that began on another site, as with a link in a mail, a browser would
    not send the cookie along.
    """
    cookie = f"{_cookie(door)}={door.key}; HttpOnly; SameSite=Strict; Path=/"
    fields = {"Content-Type": "text/html; charset=utf-8", "Set-Cookie": cookie, "Cache-Control": "no-store"}
    start("200 OK", [*fields.items(), ("Content-Length", str(len(_OPENING)))])
    return [_OPENING]


def _answer(start: Callable[..., Any], status: HTTPStatus, text: str) -> Iterable[bytes]:
    body = text.encode()
    fields = {"Content-Type": "text/plain; charset=utf-8", "Content-Length": str(len(body))}
    start(f"{status.value} {status.phrase}", [*fields.items()])
    return [body]
