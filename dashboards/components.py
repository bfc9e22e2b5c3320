"""The pieces that pages are laid from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import pandas as pd
import plotly.graph_objects as go
from dash import dcc, html
from dash.development.base_component import Component

from dashboards.desk import Desk
from dashboards.filters import Filters, search_of
from dashboards.theme import CHART_CONFIG

__all__ = [
    "Layout",
    "Page",
    "as_table",
    "chart",
    "download",
    "guarded_layout",
    "heading",
    "labelled",
    "look_again",
    "plate",
    "scrolling",
    "to_do",
]

_ROWS_IN_A_TABLE = 200
_AGAIN_MS = 1500
_AGAIN_TIMES = 600

Layout: TypeAlias = Callable[[Desk, Filters, Mapping[str, str]], Component]


@dataclass(frozen=True)
class Page:
    """
    A page: where it is, what it is called, and how it is laid.

    Its layout is given the desk, the filters of the address, and what else the address says. One that looks at nothing
    else may be ``held``: laid once for a desk and an address.
    """

    path: str
    name: str
    layout: Layout
    in_nav: bool = True
    held: bool = False


NOTHING_YET = "Nothing has been indexed yet, so there is nothing to show."
WHAT_TO_RUN = {
    "steadykeep index": "reads the frames of the archive; it never writes there",
    "steadykeep audit": "works out lens, setting and shake of each",
}


def guarded_layout(title: str, layout: Callable[[Desk, Filters], Component]) -> Layout:
    """Return a page's layout that says so where there is no frame to lay it from."""

    def laid(desk: Desk, filters: Filters, _rest: Mapping[str, str]) -> Component:
        if not len(desk):
            return html.Div([heading(title), to_do(NOTHING_YET, WHAT_TO_RUN)])
        if not desk.mask(filters).any():
            return html.Div([heading(title), to_do("No frame is left by what is chosen above.")])
        return layout(desk, filters)

    return laid


def heading(title: str, *lead: str | Component) -> Component:
    """Return the top of a page: its one first-level heading and a sentence or two."""
    return html.Header([html.H1(title), *(html.P(line, className="lead") for line in lead)], className="page-top")


def plate(title: str, *content: Component | str | None, note: str = "", wide: bool = False) -> Component:
    """Return a sheet on the page with a second-level heading and, under it, a line that says how to read it."""
    below = [html.P(note, className="note")] if note else []
    parts = [part for part in content if part is not None]
    return html.Section([html.H2(title), *below, *parts], className="plate wide" if wide else "plate")


def chart(
    name: str,
    figure: go.Figure,
    table: pd.DataFrame,
    filters: Filters,
    *,
    tall_px: int = 320,
    extra: Mapping[str, str] | None = None,
) -> Component:
    """
    Return a chart with its numbers: as a table to open, and as a CSV to take away.

    Parameters
    ----------
    name : str
        Name of the summary, as in ``downloads.TABLES``.
    figure : plotly.graph_objects.Figure
    table : pandas.DataFrame
        With the column headings that a reader sees.
    filters : Filters
        For the link to the CSV.
    tall_px : int
        Height; a responsive chart without one collapses.
    extra : mapping of str to str, optional
        What the CSV's address says besides the filters.
    """
    return html.Div(
        [
            dcc.Graph(figure=figure, config=CHART_CONFIG, style={"height": tall_px}),
            html.Div(
                [
                    html.Details([html.Summary("As a table"), as_table(table)], className="numbers"),
                    download(name, filters, extra=extra),
                ],
                className="under",
            ),
        ]
    )


def download(
    name: str, filters: Filters, words: str = "Take as CSV", extra: Mapping[str, str] | None = None
) -> Component:
    """Return a link to a summary as CSV, narrowed as the page is."""
    return html.A(words, href=f"/table/{name}.csv{search_of(filters, extra)}", download=f"{name}.csv", className="take")


def as_table(table: pd.DataFrame) -> Component:
    """Return a table of text and numbers; a long one is cut, and says so."""
    head = html.Tr([html.Th(str(column), scope="col") for column in table.columns])
    rows = [html.Tr(_cells(row)) for row in table.head(_ROWS_IN_A_TABLE).itertuples(index=False, name=None)]
    cut = len(table) - _ROWS_IN_A_TABLE
    more = [html.P(f"{cut} more rows are in the CSV.", className="note")] if cut > 0 else []
    named = f"Table of {', '.join(str(column) for column in table.columns)}"
    scroller = scrolling(html.Table([html.Thead(head), html.Tbody(rows)]), named)
    return html.Div([scroller, *more])


def scrolling(table: Component, name: str) -> Component:
    """Return a table that scrolls by itself where it is wider than its sheet, by keyboard too."""
    return labelled(html.Div(table, className="scroll", tabIndex=0, role="region"), name)


def labelled(piece: Component, label: str) -> Component:
    """Return a piece with the name under which a screen reader speaks of it."""
    setattr(piece, "aria-label", label)
    return piece


def _cells(row: Sequence[object]) -> list[Component]:
    first, *rest = row
    return [
        html.Th(str(first), scope="row"),
        *(html.Td(str(value), className="" if isinstance(value, str) else "number") for value in rest),
    ]


def to_do(sentence: str, commands: Mapping[str, str] | None = None) -> Component:
    """Return what an empty page says: why it is empty and what to run."""
    steps = [html.Li([html.Code(command), f" {why}"]) for command, why in (commands or {}).items()]
    return html.Section([html.P(sentence), html.Ul(steps) if steps else None], className="plate empty", role="status")


def look_again(href: str, key: str) -> Component:
    """Return what a page says while something is worked out; it looks again by itself, for a quarter of an hour."""
    return html.Section(
        [
            html.P("This is being worked out; over many frames it takes a while, once after each change."),
            html.P(html.A("Look again", href=href)),
            dcc.Interval(id={"kind": "again", "key": key}, interval=_AGAIN_MS, max_intervals=_AGAIN_TIMES),
        ],
        className="plate empty",
        role="status",
    )
