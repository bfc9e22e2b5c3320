"""The shoot log: what was mounted when; a row is added at the shoot, from a phone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import dash_mantine_components as dmc
import pandas as pd
from dash import html
from dash.development.base_component import Component

from auditor.model.log import SUBJECTS, SUPPORTS, Log, LogRow
from dashboards.components import Page, as_table, heading, plate, to_do
from dashboards.desk import Desk
from dashboards.filters import Filters
from dashboards.words import DASH, millimetres, moment

__all__ = ["PAGE", "log_rows"]

_TITLE = "Shoot log"
_LEAD = (
    "A row says what was on from a moment on; it holds until the body's next row. Leave empty what you did not note."
)


def _layout(desk: Desk, _filters: Filters, _rest: Mapping[str, str]) -> Component:
    if desk.workspace is None:
        return html.Div([heading(_TITLE), to_do("These pages were opened over tables alone, without a workspace.")])
    return html.Div([heading(_TITLE, _LEAD), _form(desk), html.Div(log_rows(desk), id="log-rows")])


def _form(desk: Desk) -> Component:
    fields = [
        _text("start", "From", "2026-05-02 14:20", value=f"{dt.datetime.now():%Y-%m-%d %H:%M}"),
        _text("end", "Until, if known", "2026-05-02 15:00"),
        _choice("body", "Body", _named(desk, "body")),
        _choice("lens", "Lens", _named(desk, "lens")),
        _choice("adapter", "Adapter", _named(desk, "adapter")),
        _text("setting_mm", "Setting typed, mm", "50"),
        _text("focal_mm", "Zoom position, mm", "70"),
        _text("focus_distance_m", "Focus distance, m", "1.5"),
        _text("aperture", "F-number", "2.8"),
        _choice("support", "Support", [{"value": word, "label": word.capitalize()} for word in SUPPORTS]),
        _choice("stabiliser", "Stabiliser", [{"value": "on", "label": "On"}, {"value": "off", "label": "Off"}]),
        _choice("subject", "Subject", [{"value": word, "label": word.capitalize()} for word in SUBJECTS]),
        _text("note", "Note", "wind on the pier"),
    ]
    return plate(
        "Add a row",
        html.Div(fields, className="filters form"),
        html.Div(
            [
                dmc.Button("Add to the log", id="log-add"),
                dmc.Button("Take the last one back", id="log-undo", variant="default"),
            ],
            className="buttons",
        ),
        html.Div(id="log-said", role="status", className="standing"),
        note="Times are the camera's local time, after clock corrections.",
    )


def _text(name: str, label: str, example: str, value: str = "") -> Component:
    made: Component = dmc.TextInput(
        id={"kind": "log-field", "name": name}, label=label, value=value, placeholder=f"such as {example}"
    )
    return made


def _choice(name: str, label: str, choices: list[dict[str, str]]) -> Component:
    made: Component = dmc.Select(
        id={"kind": "log-field", "name": name},
        label=label,
        data=choices,
        clearable=True,
        searchable=True,
        placeholder="Not noted",
        comboboxProps={"withinPortal": False},
    )
    return made


def _named(desk: Desk, kind: str) -> list[dict[str, str]]:
    return [{"value": key, "label": name} for key, name in desk.names.get(kind, {}).items()]


def log_rows(desk: Desk) -> Component:
    """Return what is noted, the latest first, and what of it could not be read."""
    noted = desk.workspace.log if desk.workspace else Log()
    rows = sorted(noted.rows, key=lambda row: row.start, reverse=True)
    problems = [html.Li(problem) for problem in noted.problems]
    parts = [html.Ul(problems, className="failed")] if problems else []
    table = pd.DataFrame([_told(desk, row) for row in rows])
    noted_of = [column for column in table.columns if (table[column] != DASH).any()]
    shown = as_table(table[noted_of]) if rows else html.P("Nothing is noted yet.")
    return plate("What is noted", *parts, shown, note=f"{len(rows)} rows of log.csv, the latest first.")


def _told(desk: Desk, row: LogRow) -> dict[str, str]:
    until = f" to {moment(pd.Timestamp(row.end), pd.Timestamp(row.start))}" if row.end else ""
    return {
        "From": f"{row.start.year}, {moment(pd.Timestamp(row.start))}{until}",
        "Body": desk.name("body", row.body),
        "Lens": desk.name("lens", row.lens) if row.lens else DASH,
        "Adapter": desk.name("adapter", row.adapter) if row.adapter is not None else DASH,
        "Set to": millimetres(row.setting_mm),
        "Support": row.support or DASH,
        "Stabiliser": DASH if row.stabiliser is None else ("on" if row.stabiliser else "off"),
        "Focus": f"{row.focus_distance_m:g} m" if row.focus_distance_m else DASH,
        "F-number": f"f/{row.aperture:g}" if row.aperture else DASH,
        "Zoom": millimetres(row.focal_mm),
        "Subject": row.subject or DASH,
        "Note": row.note or DASH,
    }


PAGE = Page(path="/log", name=_TITLE, layout=_layout)
