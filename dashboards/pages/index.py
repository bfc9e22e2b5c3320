"""The index: what the archives hold, looking for new frames with its progress, and what could not be read."""

from __future__ import annotations

import time
from collections.abc import Mapping

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboards.components import Page, as_table, download, heading, plate, to_do
from dashboards.desk import Desk
from dashboards.filters import Filters
from dashboards.jobs import Standing, progress_in_words
from dashboards.own_tables import archives_table
from dashboards.unreadable import unreadable_frames
from dashboards.words import count_of

__all__ = ["PAGE", "standing_shown"]

_TITLE = "Index"
_FILES_SHOWN = 200


def _layout(desk: Desk, filters: Filters, _rest: Mapping[str, str]) -> Component:
    if desk.workspace is None:
        return html.Div([heading(_TITLE), to_do("These pages were opened over tables alone, without a workspace.")])
    lead = f"{count_of(len(desk), 'frame')} known. The archives are only ever read."
    return html.Div([heading(_TITLE, lead), _archives(desk), _again(), _unreadable(desk, filters)])


def _archives(desk: Desk) -> Component:
    table = archives_table(desk).rename(columns=str.capitalize)
    if table.empty:
        return plate("Archives", html.P("settings.toml names no archive yet."))
    return plate("Archives", as_table(table), html.Div(download("archives", Filters()), className="under"))


def _again() -> Component:
    return plate(
        "Look again",
        html.Div(
            [
                dmc.Button("Read new and changed frames", id={"kind": "job-start", "what": "read"}),
                dmc.Button("Audit again only", id={"kind": "job-start", "what": "audit"}, variant="default"),
            ],
            className="buttons",
        ),
        html.Div(id="job-standing", role="status", className="standing"),
        dcc.Interval(id="job-watch", interval=1000),
        note="Frames whose files are as before are not opened. The audit follows by itself.",
    )


def standing_shown(standing: Standing) -> tuple[Component, bool]:
    """Return where the job stands, for the page, and whether it need not be watched."""
    said = html.P(
        progress_in_words(standing, time.monotonic()), className="failed" if standing.stage == "failed" else ""
    )
    share = 100 * standing.done / standing.total if standing.stage == "reading" and standing.total else None
    bar = [dmc.Progress(value=share, **{"aria-label": "Frames read"})] if share is not None else []
    more = [html.P(dcc.Link("See what was shot", href="/"))] if standing.stage == "done" else []
    return html.Div([said, *bar, *more]), not standing.is_running


def _unreadable(desk: Desk, filters: Filters) -> Component:
    files = unreadable_frames(desk, filters)
    if files.empty:
        return plate("What could not be read", html.P("Everything that is indexed could be read."))
    reasons = files["problem"].value_counts().rename_axis("Why").reset_index(name="Frames")
    return plate(
        "What could not be read",
        as_table(reasons),
        html.Details(
            [
                html.Summary("Which files"),
                as_table(files.rename(columns={"archive": "Archive", "path": "File", "problem": "Why"})),
            ]
        ),
        html.Div(download("unreadable", filters), className="under"),
        note="Whole or in part. Each keeps its row, and what could be read safely is used.",
    )


PAGE = Page(path="/index", name=_TITLE, layout=_layout)
