"""The app: built over whatever desk it is given."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, MATCH, ClientsideFunction, Dash, Input, NoUpdate, Output, State, dcc, html, no_update
from dash.development.base_component import Component
from dash.exceptions import DependencyException
from flask import Flask, Response, request, send_from_directory

from dashboards import downloads, papers, pictures
from dashboards.components import Page, heading, labelled, to_do
from dashboards.desk import Desk
from dashboards.filterbar import CONTROLS, filter_bar, in_words
from dashboards.filters import filters_from_search, rest_of
from dashboards.flagged_grid import grid_rows
from dashboards.pages import PAGES
from dashboards.theme import MANTINE
from dashboards.waiting import is_awaited
from dashboards.work import add_work

__all__ = ["create_app", "looked_again", "turn_to"]

_ASSETS = Path(__file__).parent / "assets"

_INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{%title%}</title>
{%favicon%}
<script src="/assets/boot/scheme.js"></script>
{%css%}
</head>
<body>
{%app_entry%}
<footer>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>"""


def create_app(desk: Desk | Callable[[], Desk]) -> Dash:
    """
    Build the pages over a desk.

    Parameters
    ----------
    desk : Desk, or callable that returns one
        What the pages show; where it is called (``watched.workspace_desk``), each page shows it as it is then.

    Returns
    -------
    Dash
        Serve it with ``dashboards.serve.serve``, never with its own ``run``.
    """
    app = Dash(
        "dashboards",
        title="steadykeep",
        index_string=_INDEX,
        update_title="",
        enable_mcp=False,
        assets_folder=str(_ASSETS),
        assets_path_ignore=["boot"],
        suppress_callback_exceptions=True,  # a page's parts are not there until it is turned to
    )
    now = desk if callable(desk) else lambda: desk
    app.layout = lambda: _shell(now())
    _add_callbacks(app, now)
    _add_scripts(app)
    downloads.add_routes(app.server, now)
    pictures.add_routes(app.server, now)
    papers.add_routes(app.server, now)
    _add_not_found(app)
    return app


def _shell(desk: Desk) -> Component:
    links = [
        dcc.Link(page.name, href=page.path, id={"kind": "nav", "path": page.path}, className="nav-link")
        for page in PAGES
        if page.in_nav
    ]
    scheme = dmc.ColorSchemeToggle(
        lightIcon=html.Span("Dark"), darkIcon=html.Span("Light"), variant="subtle", className="scheme", size="lg",
        **{"aria-label": "Light or dark page"},
    )  # fmt: skip
    shell: Component = dmc.MantineProvider(
        [
            dcc.Location(id="address", refresh=False),
            dcc.Store(id="page-title"),
            html.A("To the page's content", href="#page", className="skip"),
            html.Header(
                [
                    html.Div([html.Span("steadykeep", className="wordmark"), scheme], className="mast"),
                    labelled(html.Nav(links), "Pages"),
                ],
                className="masthead",
            ),
            filter_bar(desk),
            html.Main(id="page", tabIndex=-1),
            html.Div(id="spoken", className="unseen", role="status"),
        ],
        theme=dict(MANTINE),
        defaultColorScheme="auto",
    )
    return shell


def turn_to(desk: Desk, path: str | None, search: str | None) -> tuple[Component, str, str]:
    """Return the page at a path, narrowed by the address, its title, and what it is narrowed to."""
    page = next((page for page in PAGES if page.path == path), _NO_PAGE)
    filters = filters_from_search(search)
    laid = _laid(desk, page, search)
    notice = [html.P(desk.notice, className="notice", role="alert")] if desk.notice else []
    return html.Div([*notice, laid]), f"{page.name} – steadykeep", in_words(desk, filters)


def looked_again(desk: Desk, keys: list[str], path: str | None, search: str | None) -> Component | NoUpdate:
    """Return a page anew once any of what it waits for is there; until then it is not laid again, and stays."""
    return no_update if all(is_awaited(desk, key) for key in keys) else turn_to(desk, path, search)[0]


def _waits(laid: Component) -> bool:
    """Return whether a page has a piece that is still worked out."""
    return any(isinstance(key, dict) and key.get("kind") == "again" for key in laid)  # a piece is a mapping by ids


_HELD_PAGES = 24


def _laid(desk: Desk, page: Page, search: str | None) -> Component:
    """Lay a page, or take it as it was laid before with nothing left to wait for: a third of a second saved."""
    if not page.held:
        return page.layout(desk, filters_from_search(search), rest_of(search))
    held, key = desk.laid, (page.path, search or "")
    found = held.get(key)
    if found is None:
        found = page.layout(desk, filters_from_search(search), rest_of(search))
        if len(held) >= _HELD_PAGES:
            held.clear()
        if not _waits(found):
            held[key] = found
    return found


_NO_PAGE = Page(
    path="",
    name="No such page",
    layout=lambda _desk, _filters, _rest: html.Div([heading("No such page"), to_do("The pages are named above.")]),
)


def _add_callbacks(app: Dash, now: Callable[[], Desk]) -> None:
    @app.callback(
        Output("page", "children"),
        Output("page-title", "data"),
        Output("filters-said", "children"),
        Input("address", "pathname"),
        Input("address", "search"),
    )
    def turn(path: str | None, search: str | None) -> tuple[Component, str, str]:
        return turn_to(now(), path, search)

    @app.callback(
        Output("page", "children", allow_duplicate=True),
        Input({"kind": "again", "key": ALL}, "n_intervals"),
        State({"kind": "again", "key": ALL}, "id"),
        State("address", "pathname"),
        State("address", "search"),
        prevent_initial_call=True,
    )
    def again(
        ticks: list[int | None], pieces: list[dict[str, str]], path: str | None, search: str | None
    ) -> Component | NoUpdate:
        return looked_again(now(), [piece["key"] for piece in pieces], path, search) if any(ticks) else no_update

    @app.callback(
        Output({"kind": "flagged", "view": MATCH}, "getRowsResponse"),
        Input({"kind": "flagged", "view": MATCH}, "getRowsRequest"),
        State({"kind": "flagged", "view": MATCH}, "id"),
    )
    def block(wanted: dict[str, int] | None, grid_id: dict[str, str]) -> dict[str, object] | None:
        return grid_rows(now(), wanted, grid_id["view"])

    workspace = now().workspace
    if workspace is not None:
        add_work(app, now, workspace.folder)


def _add_scripts(app: Any) -> None:
    """Bind the functions of assets/address.js; the library has no types for these calls."""
    values = [(control, "value") for control in CONTROLS]
    app.clientside_callback(
        ClientsideFunction("steadykeep", "keepAddress"),
        Output("address", "search"),
        *[Output(*value) for value in values],
        Input("address", "search"),
        *[Input(*value) for value in values],
    )
    app.clientside_callback(
        ClientsideFunction("steadykeep", "keepLinks"),
        Output({"kind": "nav", "path": ALL}, "href"),
        Input("address", "pathname"),
        Input("address", "search"),
        State({"kind": "nav", "path": ALL}, "id"),
    )
    app.clientside_callback(
        ClientsideFunction("steadykeep", "keepTitle"), Output("spoken", "children"), Input("page-title", "data")
    )


def _add_not_found(app: Dash) -> None:
    """Give an unknown path its proper status; the library answers every path with the same first page."""
    known = {page.path for page in PAGES}

    server: Flask = app.server

    @server.after_request
    def unknown_paths(answer: Response) -> Response:
        if request.endpoint == "/<path:path>" and request.path not in known:
            answer.status_code = 404
        return answer

    @server.get("/favicon.ico")
    def icon() -> Response:  # asked for by pages that are not ours to write, such as the papers
        return send_from_directory(_ASSETS, "favicon.ico")

    @server.errorhandler(DependencyException)
    def unknown_parts(_error: DependencyException) -> tuple[str, int]:
        return "No such part.", 404
