"""The pictures of frames, over the web: named by place and check, never by a path."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from flask import Flask, Response, abort

from dashboards.desk import Desk
from dashboards.thumbnails import SIZES_PX, Thumbnails, no_picture, picture_file, place_of

__all__ = ["add_routes"]

_WAIT_S = 20.0


def add_routes(server: Flask, now: Callable[[], Desk]) -> None:
    """
    Let the server hand out the frames' pictures, each under ``/picture/<size>/<key>.webp``.

    Parameters
    ----------
    server : Flask
    now : callable
        Returns the desk as it is.
    """
    workspace = now().workspace
    folder = workspace.store / "pictures" if workspace else Path(tempfile.gettempdir()) / "steadykeep-pictures"
    made = Thumbnails(folder)

    @server.get("/picture/<size>/<key>.webp")
    def picture(size: str, key: str) -> Response:
        desk = now()
        place = place_of(desk, key)
        if size not in SIZES_PX or place is None:
            abort(404)
        try:
            found = made.ask(desk, place, size).result(timeout=_WAIT_S)
        except TimeoutError:
            found = None
        if found is None:
            sheet = no_picture(picture_file(desk, place))
            return Response(sheet, mimetype="image/svg+xml", headers={"Cache-Control": "no-store"})
        return Response(found, mimetype="image/webp", headers={"Cache-Control": "private, max-age=31536000, immutable"})
