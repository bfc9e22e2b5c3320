"""The kit: what is in it, what fits what, what is wrong with it, and a form for each entry."""

from __future__ import annotations

from collections.abc import Mapping

import dash_mantine_components as dmc
import pandas as pd
from dash import dcc, html
from dash.development.base_component import Component

from dashboards.audit_age import audit_again
from dashboards.components import Page, download, heading, plate, scrolling, to_do
from dashboards.desk import Desk
from dashboards.filters import Filters, search_of
from dashboards.kit_entry import entry_form
from dashboards.kit_fields import NOUNS
from dashboards.kit_shown import Finding, adapters_of, bodies_of, findings_shown, lenses_of, pairings_of
from dashboards.words import count_of

__all__ = ["PAGE"]

_TITLE = "Kit"
_LEAD = "What you mount: bodies, lenses, adapters. Everything else is worked out from this."
_TABLES = (("lenses", "Lenses", lenses_of), ("bodies", "Bodies", bodies_of), ("adapters", "Adapters", adapters_of))
_FINDINGS_SHOWN = 12
_PAIRING = ("Lens", "Adapter", "Body", "Effective focal length", "To infinity", "Fills the sensor", "Frames")
_LOOKS = {"Frames": "number", "Yours": "whole", "Price": "whole"}


def _layout(desk: Desk, filters: Filters, rest: Mapping[str, str]) -> Component:
    workspace = desk.workspace
    if workspace is None:
        return html.Div([heading(_TITLE), to_do("These pages were opened over tables alone, without a workspace.")])
    table, _, entry = rest.get("entry", "").partition("/")
    if table in NOUNS:
        back = html.Nav(dcc.Link("The whole kit", href=f"/kit{search_of(filters)}"), className="turning")
        title = f"{NOUNS[table].capitalize()}: {desk.name(NOUNS[table], entry)}" if entry else f"A new {NOUNS[table]}"
        return html.Div(
            [
                heading(title),
                back,
                html.Div(entry_form(workspace, table, entry), id="kit-form"),
                _changing(),
                audit_again(workspace),
            ]
        )
    pairings = pairings_of(desk, workspace)
    return html.Div(
        [
            heading(_TITLE, _LEAD),
            _findings(desk, filters, pairings),
            *(_entries(desk, filters, *each) for each in _TABLES),
            _pairings(desk, filters, pairings),
            html.Div(id="kit-form"),
            _changing(),
            audit_again(workspace),
        ],
        className="kit",
    )


def _changing() -> Component:
    return html.Div(
        [
            html.Div(id="kit-said", role="status", className="standing"),
            dmc.Button("Take the last change back", id={"kind": "kit-undo"}, variant="default"),
        ],
        className="changing",
    )


def _link(words: str, filters: Filters, table: str, entry: str = "") -> Component:
    return dcc.Link(words, href=f"/kit{search_of(filters, {'entry': f'{table}/{entry}'})}")


def _findings(desk: Desk, filters: Filters, pairings: pd.DataFrame) -> Component | None:
    assert desk.workspace is not None  # noqa: S101  (the page is not laid without)
    found = findings_shown(desk, desk.workspace)
    used = pairings.sort_values("frames", ascending=False)
    if not found:
        return plate(
            "Worth a look", html.P("Nothing is missing and nothing contradicts itself, as far as can be told.")
        )
    items = [html.Li([one.sentence, " ", *_ways(one, filters, used)]) for one in found]
    rest = items[_FINDINGS_SHOWN:]
    more = html.Details([html.Summary(f"{len(rest)} more"), html.Ul(rest)]) if rest else None
    return plate(
        "Worth a look",
        html.Ul(items[:_FINDINGS_SHOWN]),
        more,
        note="Worst first: what cannot work, then what is missing.",
    )


def _ways(one: Finding, filters: Filters, used: pd.DataFrame) -> list[Component | str]:
    ways: list[Component | str] = [_link("Mend it", filters, one.table, one.entry)] if one.table else []
    if "calibrate setting" in one.sentence:
        own = used[used["lens"] == one.entry]
        pairing = {"pairing": "/".join(own.iloc[0][["body", "lens", "adapter"]])} if len(own) else {}
        where = f"/calibration{search_of(filters, {'part': 'test', **pairing})}"
        ways += [" · ", dcc.Link("Plan a test", href=where)]
    return ways


def _entries(desk: Desk, filters: Filters, table: str, title: str, rows_of: object) -> Component:
    rows: pd.DataFrame = rows_of(desk, desk.workspace)  # type: ignore[operator]
    add = _link(f"Add {'an' if table == 'adapters' else 'a'} {NOUNS[table]}", filters, table)
    if rows.empty:
        return plate(title, html.P([f"kit.toml names no {NOUNS[table]} yet. ", add]))
    shown = [column for column in rows.columns if column not in {"id", "Name"}]
    head = html.Tr([html.Th(column, scope="col") for column in ("Name", *shown)])
    body = [
        html.Tr(
            [
                html.Th(_link(str(row["Name"]), filters, table, str(row["id"])), scope="row"),
                *(html.Td(str(row[column]), className=_LOOKS.get(column, "")) for column in shown),
            ]
        )
        for row in rows.to_dict("records")
    ]
    return plate(title, scrolling(html.Table([html.Thead(head), html.Tbody(body)]), title), html.P(add))


def _pairings(desk: Desk, filters: Filters, pairings: pd.DataFrame) -> Component | None:
    if pairings.empty:
        return None
    rows = [
        (
            desk.name("lens", row["lens"]),
            desk.name("adapter", row["adapter"]),
            desk.name("body", row["body"]),
            row["focal"],
            row["infinity"].capitalize(),
            row["coverage"].capitalize(),
            str(row["frames"]),
        )
        for row in pairings.to_dict("records")
    ]
    head = html.Tr([html.Th(column, scope="col", role="columnheader") for column in _PAIRING], role="row")
    made = html.Table([html.Thead(head), html.Tbody([_pairing(row) for row in rows])], className="stacks", role="table")
    table = scrolling(made, "What fits what")
    return plate(
        "What fits what",
        table,
        html.Div(download("kit-pairings", filters), className="under"),
        note=f"{count_of(len(pairings), 'pairing')}: every lens on every body that it reaches, by itself, through one "
        "adapter, or through a stack that the log names. From the registers of the mounts and what is noted here.",
    )


def _pairing(row: tuple[str, ...]) -> Component:
    """Return a row whose cells say on a phone, where they stand below each other, what they are."""
    first, *rest = row
    cells = [_cell(words, column) for words, column in zip(rest, _PAIRING[1:], strict=True)]
    return html.Tr([html.Th(first, scope="row", role="rowheader"), *cells], role="row")


def _cell(words: str, column: str) -> Component:
    cell = html.Td(words, role="cell", className=_telling(words))
    setattr(cell, "data-label", column)
    return cell


def _telling(words: str) -> str:
    return "telling" if words.startswith(("No:", "Beyond", "Dark")) else ""


PAGE = Page(path="/kit", name=_TITLE, layout=_layout)
