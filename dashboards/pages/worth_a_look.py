"""Frames worth a look: all that is flagged, the worst first, each with its reason in words."""

from __future__ import annotations

from collections.abc import Mapping

from dash import dcc, html
from dash.development.base_component import Component

from dashboards.aside import ASIDE, is_aside
from dashboards.components import Page, download, guarded_layout, heading
from dashboards.desk import Desk
from dashboards.filters import Filters, search_of
from dashboards.flagged_grid import flagged_grid
from dashboards.words import count_of

__all__ = ["PAGE"]

_TITLE = "Worth a look"
FLAGGED_CSV = "frames-worth-a-look"


def _layout(desk: Desk, filters: Filters, rest: Mapping[str, str]) -> Component:
    aside = is_aside(rest)
    found, others = (len(desk.flagged_places(filters, aside=which)) for which in (aside, not aside))
    links = _other(filters, others, aside=aside)
    turn = html.Nav(links, className="turning") if links else None
    if not found:
        return html.Div([heading(_TITLE, "None here was put aside." if aside else "No frame here is flagged."), turn])
    told = f"{count_of(found, 'frame')}, the worst first. A flag is a reason to look, not a verdict on the picture."
    if aside:
        told = f"{count_of(found, 'frame')} that you looked at and put aside. Its own page flags one again."
    taken = download(FLAGGED_CSV, filters, extra=ASIDE if aside else None)
    sheet = html.Section(
        [flagged_grid(filters, aside=aside), html.Div(taken, className="under")],
        className="plate",
    )
    return html.Div([heading(_TITLE, told), turn, sheet])


def _other(filters: Filters, others: int, *, aside: bool) -> list[Component]:
    if aside:
        return [dcc.Link("Back to those worth a look", href=f"/worth-a-look{search_of(filters)}")]
    words = f"{count_of(others, 'frame')} looked at and put aside"
    return [dcc.Link(words, href=f"/worth-a-look{search_of(filters, ASIDE)}")] if others else []


def _guarded(desk: Desk, filters: Filters, rest: Mapping[str, str]) -> Component:
    return guarded_layout(_TITLE, lambda same, narrowed: _layout(same, narrowed, rest))(desk, filters, rest)


PAGE = Page(path="/worth-a-look", name=_TITLE, layout=_guarded)
