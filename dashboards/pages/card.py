"""The card: what to type and how slow to go, ready to print."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from dash import html
from dash.development.base_component import Component

from dashboards.components import Page, heading, plate, to_do
from dashboards.desk import Desk
from dashboards.filters import NOT_KNOWN, Filters

__all__ = ["PAGE"]

_TITLE = "Card"
_LEAD = "For each pairing of your kit: what to type at each distance, how exact, how slow by hand."
_CAUTION = "A card is a plan, made from the kit and the figures in settings.toml: test it before a paid job."


def _layout(desk: Desk, filters: Filters, _rest: Mapping[str, str]) -> Component:
    if desk.workspace is None:
        return html.Div([heading(_TITLE), to_do("These pages were opened over tables alone, without a workspace.")])
    if not desk.workspace.kit.lenses:
        return html.Div([heading(_TITLE), to_do("kit.toml names no lens yet, so there is nothing to make a card of.")])
    lenses = [key for key in filters.lens if key != NOT_KNOWN]
    query = f"?{urlencode([('lens', key) for key in lenses])}" if lenses else ""
    shown = " and ".join(desk.name("lens", key) for key in lenses) or "all lenses of the kit"
    papers = [("card-a4.html", "A4, to print"), ("card-a5.html", "A5, for the bag"), ("card.csv", "As CSV")]
    links = [
        html.Li(html.A(words, href=f"/paper/{name}{query}", target="_blank" if name.endswith("html") else ""))
        for name, words in papers
    ]
    return html.Div(
        [
            heading(_TITLE, _LEAD),
            plate(
                "Take it along",
                html.P(f"For {shown}. Choose lenses under Showing, above, for a shorter one."),
                html.Ul(links),
                html.P(_CAUTION, className="note"),
            ),
        ]
    )


PAGE = Page(path="/card", name=_TITLE, layout=_layout)
