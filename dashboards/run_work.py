"""The callback of a frame's page: what is pressed there counts for the whole run of frames."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from dash import ALL, Dash, Input, Output, State, ctx, dcc, no_update
from dash.development.base_component import Component

from auditor.model.answers import Answer
from auditor.model.aside import PutAside
from dashboards.aside import around
from dashboards.desk import Desk
from dashboards.filters import NO_ADAPTER, filters_from_search, rest_of, search_of
from dashboards.run_writes import RunWrites, frames_of_run, put_aside_rows, run_of
from dashboards.thumbnails import key_of, place_of

__all__ = ["add_run", "run_answer"]


def add_run(app: Dash, now: Callable[[], Desk], writes: RunWrites) -> None:
    """
    Bind the buttons of a frame's page.

    Parameters
    ----------
    app : Dash
    now : callable
        Returns the desk as it is.
    writes : RunWrites
    """

    @app.callback(
        Output("run-said", "children"),
        Input({"kind": "run-do", "what": ALL, "body": ALL, "first": ALL, "last": ALL}, "n_clicks"),
        State({"kind": "confirm", "part": ALL}, "value"),
        State("address", "search"),
        prevent_initial_call=True,
    )
    def do(_clicks: list[int | None], mounted: list[str | None], search: str | None) -> Any:
        pressed = ctx.triggered_id if ctx.triggered and ctx.triggered[0]["value"] else None
        if not isinstance(pressed, Mapping):
            return no_update
        lens, adapter = mounted if len(mounted) == 2 else (None, None)
        said = run_answer(now(), writes, pressed, lens, adapter)
        return [f"{said} ", *_next(now(), search)] if pressed["what"] == "fine" else said


def run_answer(desk: Desk, writes: RunWrites, pressed: Mapping[str, Any], lens: str | None, adapter: str | None) -> str:
    """
    Do what a button says and return what came of it.

    Parameters
    ----------
    desk : Desk
    writes : RunWrites
    pressed : mapping
        The button's ``what``, and the run: ``body``, ``first``, ``last``; or in ``first`` one frame's key.
    lens, adapter : str or None
        As chosen on the page.
    """
    what, body = str(pressed["what"]), str(pressed["body"])
    if what == "undo":
        return writes.undo()
    if what in {"fine", "again"}:
        rows = _rows(desk, pressed, aside=what == "again")
        return writes.fine(rows) if what == "fine" else writes.again(rows)
    first, last = (dt.datetime.fromisoformat(str(pressed[end])) for end in ("first", "last"))
    if what.startswith("support-"):
        return writes.support(run_of(desk, body, first, last), what.removeprefix("support-"))
    if not lens:
        return "Name the lens first; nothing was recorded."
    return writes.confirm(Answer(first, last, body, lens, "" if adapter in {None, NO_ADAPTER} else str(adapter)))


def _rows(desk: Desk, pressed: Mapping[str, Any], *, aside: bool) -> list[PutAside]:
    if pressed["body"]:
        first, last = (dt.datetime.fromisoformat(str(pressed[end])) for end in ("first", "last"))
        places = frames_of_run(desk, str(pressed["body"]), first, last)
    else:
        place = place_of(desk, str(pressed["first"]))
        places = np.array([] if place is None else [place], dtype=np.int64)
    return put_aside_rows(desk, places[np.isin(places, desk.aside if aside else desk.flagged)])


def _next(desk: Desk, search: str | None) -> list[Component]:
    """Return the way on: the frame that was looked at is in the list no more."""
    filters, place = filters_from_search(search), place_of(desk, rest_of(search).get("at", ""))
    found = around(desk, filters, place) if place is not None else []
    return [dcc.Link(words, href=f"/frame{search_of(filters, {'at': key_of(desk, to)})}") for to, words in found[-1:]]
