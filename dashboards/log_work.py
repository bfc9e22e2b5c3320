"""The callbacks of the shoot log's page."""

from __future__ import annotations

import base64
import binascii
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dash import ALL, ClientsideFunction, Dash, Input, Output, State, ctx, no_update
from dash.development.base_component import Component

from dashboards.desk import Desk
from dashboards.filters import filters_from_search
from dashboards.log_writes import Done, Log, Preview
from dashboards.noted import noted
from dashboards.pages.log import chooser, log_rows, preview_shown
from dashboards.pages.log_form import form

__all__ = ["add_log", "file_content", "log_answer"]

Answer = tuple[Any, Any, Any, Any, Any]
_NOTHING: Answer = (no_update,) * 5


def add_log(app: Dash, now: Callable[[], Desk], log: Log) -> None:
    """
    Bind the form, the rows and the import of the shoot log's page.

    Parameters
    ----------
    app : Dash
    now : callable
        Returns the desk as it is.
    log : Log
    """

    @app.callback(
        Output("log-said", "children"),
        Output("log-form", "children"),
        Output("log-rows", "children"),
        Output("log-preview", "children"),
        Output("log-picked", "data"),
        Input({"kind": "log-do", "what": ALL, "row": ALL}, "n_clicks"),
        State({"kind": "log-field", "name": ALL}, "value"),
        State({"kind": "log-field", "name": ALL}, "id"),
        State("address", "search"),
        prevent_initial_call=True,
    )
    def do(
        _clicks: list[int | None], values: list[str | None], ids: list[dict[str, str]], search: str | None
    ) -> Answer:
        pressed = ctx.triggered_id if ctx.triggered and ctx.triggered[0]["value"] else None
        typed = {one["name"]: value or "" for one, value in zip(ids, values, strict=True)}
        return log_answer(now, log, pressed, typed, search) if isinstance(pressed, Mapping) else _NOTHING

    @app.callback(
        Output("log-preview", "children", allow_duplicate=True),
        Output("log-choose", "children"),
        Output("log-reading", "children", allow_duplicate=True),
        Input("log-file", "data"),
        State({"kind": "log-upload", "count": ALL}, "id"),
        prevent_initial_call=True,
    )
    def look(chosen: Mapping[str, str] | None, ids: Sequence[Mapping[str, int]]) -> tuple[Any, Component, Any]:
        fresh = chooser(1 + max((one["count"] for one in ids), default=0))
        if not chosen:
            return no_update, fresh, no_update
        name, content = str(chosen.get("name")), file_content(str(chosen.get("content")))
        found = Preview(name, said=f"{name}: it could not be read.") if content is None else log.preview(name, content)
        return preview_shown(now(), found), fresh, ""

    _add_scripts(app)


def _add_scripts(app: Any) -> None:
    uploads = {"kind": "log-upload", "count": ALL}
    app.clientside_callback(
        ClientsideFunction("steadykeep", "holdFile"),
        Output("log-file", "data"),
        Output("log-reading", "children"),
        Input(uploads, "contents"),
        State(uploads, "filename"),
        prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("steadykeep", "nameFile"), Output("log-choose", "className"), Input("log-choose", "children")
    )
    app.clientside_callback(
        ClientsideFunction("steadykeep", "showForm"), Output("log-form", "className"), Input("log-picked", "data")
    )


def file_content(address: str) -> bytes | None:
    """
    Return the bytes of a file as a browser hands it over; None for what is none.

    Examples
    --------
    >>> file_content("data:text/csv;base64,c3RhcnQ=")
    b'start'
    """
    _, comma, coded = address.partition(",")
    try:
        return base64.b64decode(coded, validate=True) if comma else None
    except (binascii.Error, ValueError):
        return None


def log_answer(
    now: Callable[[], Desk], log: Log, pressed: Mapping[str, Any], typed: Mapping[str, str], search: str | None
) -> Answer:
    """
    Return what a press changes on the page: what is said, form, rows, preview, and a mark that a form was asked for.

    Parameters
    ----------
    now : callable
        Returns the desk as it is.
    log : Log
    pressed : mapping
        The button's ``what`` and ``row``.
    typed : mapping
        Column to what the form says.
    search : str or None
        Of the address.
    """
    what, row = str(pressed.get("what")), str(pressed.get("row"))
    if what == "mend":
        found = next((one for one in noted(now()) if one.key == row), None)
        if found is None:
            return (
                "The row was changed meanwhile; choose it again.",
                no_update,
                _rows(now, search),
                no_update,
                no_update,
            )
        return "", form(now(), found), no_update, no_update, time.time()
    if what == "leave":
        return "Nothing was changed.", form(now()), no_update, no_update, no_update
    if what == "leave-file":
        return no_update, no_update, no_update, "", no_update
    deeds: Mapping[str, Callable[[], Done]] = {
        "add": lambda: log.add(typed),
        "save": lambda: log.mend(row, typed),
        "remove": lambda: log.remove(row),
        "take-in": lambda: log.take_in(row),
        "undo": log.undo,
    }
    if what not in deeds:
        return _NOTHING
    said, done = deeds[what]()
    if not done:  # what was typed stays
        return said, no_update, _rows(now, search), no_update, no_update
    return said, form(now()), _rows(now, search), "" if what == "take-in" else no_update, no_update


def _rows(now: Callable[[], Desk], search: str | None) -> Component:
    return log_rows(now(), filters_from_search(search))
