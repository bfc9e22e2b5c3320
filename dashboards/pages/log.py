"""The shoot log: rows added at the shoot from a phone, mended, removed, taken over from a spreadsheet."""

from __future__ import annotations

from collections.abc import Mapping

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from auditor.model.cards import distance_words
from auditor.model.log import LogRow
from auditor.model.log_import import LogImport
from auditor.model.log_text import Noted, row_values
from dashboards.components import Page, download, heading, plate, scrolling, to_do
from dashboards.desk import Desk
from dashboards.filters import Filters
from dashboards.log_writes import Preview
from dashboards.noted import noted
from dashboards.pages.log_form import form
from dashboards.words import DASH, count_of, millimetres

__all__ = ["PAGE", "chooser", "log_rows", "preview_shown"]

_TITLE = "Shoot log"
_LEAD = (
    "A row says what was on from a moment on; it holds until the body's next row. Leave empty what you did not note."
)
_ROWS_SHOWN = 200
_PREVIEWED = 50
_COLUMNS = {
    "lens": "Lens",
    "adapter": "Adapter",
    "setting_mm": "Set to",
    "support": "Support",
    "stabiliser": "Stabiliser",
    "focus_distance_m": "Focus",
    "aperture": "F-number",
    "focal_mm": "Zoom",
    "subject": "Subject",
    "note": "Note",
}


def _layout(desk: Desk, filters: Filters, _rest: Mapping[str, str]) -> Component:
    if desk.workspace is None:
        return html.Div([heading(_TITLE), to_do("These pages were opened over tables alone, without a workspace.")])
    return html.Div(
        [
            heading(_TITLE, _LEAD),
            html.Div(form(desk), id="log-form"),
            html.Div(id="log-said", role="status", className="standing"),
            dcc.Store(id="log-picked"),
            html.Div(log_rows(desk, filters), id="log-rows"),
            plate(
                "From a spreadsheet",
                html.Div(chooser(0), id="log-choose"),
                dcc.Store(id="log-file"),
                html.Div(id="log-reading", role="status"),
                html.Div(id="log-preview"),
                note="A CSV with the columns of log.csv, in any order; what it would add is shown first. Up to 3 MB.",
            ),
        ]
    )


def chooser(count: int) -> Component:
    """Return the field for a file; a new one each time, since choosing the same name again does nothing in an old."""
    return dcc.Upload(
        html.Button("Choose a CSV, or drop it here", className="drop", type="button"),
        id={"kind": "log-upload", "count": count},
        accept=".csv,.tsv,.txt,text/csv",
        multiple=False,
    )


def preview_shown(desk: Desk, preview: Preview) -> Component:
    """Return what a CSV would add to the log, what of it is there already, and what is refused and why."""
    plan = preview.plan
    if plan is None:
        return html.P(preview.said, className="failed")
    told = f"{preview.name}: {count_of(len(plan.rows), 'new row')}"
    told += f", {count_of(plan.doubles, 'row')} that the log has already" if plan.doubles else ""
    told += f", {count_of(len(plan.refused), 'reason')} to leave a row out" if plan.refused else ""
    parts: list[Component] = [html.H3(f"{told}.")]
    parts += [html.Ul([html.Li(reason) for reason in plan.refused[:_PREVIEWED]], className="failed")]
    if len(plan.refused) > _PREVIEWED:
        parts.append(html.P(f"And {len(plan.refused) - _PREVIEWED} more.", className="failed"))
    parts += [html.P(remark, className="note") for remark in plan.remarks]
    if not plan.rows:
        return html.Div([*parts, html.P("So there is nothing to add.")])
    return html.Div([*parts, _to_add(desk, plan), html.Div(_decide(preview, plan), className="buttons")])


def _decide(preview: Preview, plan: LogImport) -> list[Component]:
    add = f"Add {count_of(len(plan.rows), 'row')} to the log"
    return [
        dmc.Button(add, id={"kind": "log-do", "what": "take-in", "row": preview.token}),
        dmc.Button("Leave it", id={"kind": "log-do", "what": "leave-file", "row": ""}, variant="default"),
    ]


def _to_add(desk: Desk, plan: LogImport) -> Component:
    shown = [
        Noted("", row.line, row_values(row), row) for row in sorted(plan.rows, key=lambda row: row.start)[:_PREVIEWED]
    ]
    more = len(plan.rows) - len(shown)
    under = [html.P(f"And {count_of(more, 'later row')}.", className="note")] if more else []
    return html.Div([_table(desk, shown, "Rows to be added"), *under])


def log_rows(desk: Desk, filters: Filters) -> Component:
    """Return what is noted, the latest first, each row with a button to mend it; before it what cannot be read."""
    rows = noted(desk, filters)
    unread = [one for one in rows if one.row is None]
    read = [one for one in rows if one.row is not None]
    problems = [] if desk.workspace is None else [p for p in desk.workspace.log.problems if " line " not in p]
    shown = read[:_ROWS_SHOWN]
    parts: list[Component | None] = [
        html.Ul([html.Li(problem) for problem in problems], className="failed") if problems else None,
        html.Ul([_unread(one) for one in unread], className="unread") if unread else None,
        _table(desk, shown, "Rows of the log") if shown else html.P(_nothing(filters)),
    ]
    if len(read) > len(shown):
        parts.append(
            html.P(f"{len(read) - len(shown)} earlier rows: choose days above to reach them.", className="note")
        )
    under = html.Div([html.Span(), download("log", Filters(), "Take log.csv")], className="under")
    return plate("What is noted", *parts, under, note=f"{count_of(len(read), 'row')} of log.csv, the latest first.")


def _nothing(filters: Filters) -> str:
    return "Nothing is noted yet." if filters.is_empty else "Nothing is noted of what is chosen above."


def _unread(one: Noted) -> Component:
    why = "; ".join(problem.removesuffix("; the row is left out") for problem in one.problems)
    return html.Li([html.Span(f"log.csv line {one.line} is not used: {why} ", className="failed"), _mend(one)])


def _mend(one: Noted, words: str = "") -> Component:
    button: Component = dmc.Button(
        "Mend",
        id={"kind": "log-do", "what": "mend", "row": one.key},
        variant="default",
        size="compact-sm",
        **{"aria-label": f"Mend {words or f'line {one.line}'}"},
    )
    return button


def _table(desk: Desk, rows: list[Noted], name: str) -> Component:
    told = [_told(desk, one.row) for one in rows if one.row]
    columns = [column for column in _COLUMNS if any(row[column] != DASH for row in told)]
    bodies = len({one.row.body for one in rows if one.row}) > 1
    heads = ["From", *(["Body"] if bodies else []), *(_COLUMNS[column] for column in columns)]
    lines = []
    for one, row in zip(rows, told, strict=True):
        first: list[Component | str] = [html.Span(row["from"])]
        if one.key:
            first.append(_mend(one, f"the row from {row['from']}"))
        cells = [html.Td(row["body"])] if bodies else []
        lines.append(html.Tr([html.Th(first, scope="row"), *cells, *(html.Td(row[column]) for column in columns)]))
    head = html.Tr([html.Th(head, scope="col") for head in heads])
    return scrolling(html.Table([html.Thead(head), html.Tbody(lines)], className="log"), name)


def _told(desk: Desk, row: LogRow) -> dict[str, str]:
    until = f" to {row.end:%H:%M}" if row.end else ""
    if row.end and row.end.date() != row.start.date():
        until = f" to {row.end.day} {row.end:%b %H:%M}"
    return {
        "from": f"{row.start.day} {row.start:%b %Y %H:%M}{until}",
        "body": desk.name("body", row.body),
        "lens": desk.name("lens", row.lens) if row.lens else DASH,
        "adapter": desk.name("adapter", row.adapter) if row.adapter is not None else DASH,
        "setting_mm": millimetres(row.setting_mm),
        "support": row.support or DASH,
        "stabiliser": DASH if row.stabiliser is None else ("on" if row.stabiliser else "off"),
        "focus_distance_m": distance_words(row.focus_distance_m) if row.focus_distance_m else DASH,
        "aperture": f"f/{row.aperture:g}" if row.aperture else DASH,
        "focal_mm": millimetres(row.focal_mm),
        "subject": f"{row.subject} m/s" if row.subject and row.subject[0].isdigit() else row.subject or DASH,
        "note": row.note or DASH,
    }


PAGE = Page(path="/log", name=_TITLE, layout=_layout)
