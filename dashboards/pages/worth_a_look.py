"""Frames worth a look: all that is flagged, the worst first, each with its reason in words."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboards.components import Page, download, guarded_layout, heading
from dashboards.desk import Desk
from dashboards.filters import Filters
from dashboards.flagged_grid import flagged_grid
from dashboards.words import count_of

__all__ = ["PAGE"]

_TITLE = "Worth a look"


def _layout(desk: Desk, filters: Filters) -> Component:
    found = len(desk.flagged_places(filters))
    if not found:
        return html.Div([heading(_TITLE, "No frame here is flagged.")])
    told = f"{count_of(found, 'frame')}, the worst first. A flag is a reason to look, not a verdict on the picture."
    sheet = html.Section(
        [flagged_grid(filters), html.Div(download("frames-worth-a-look", filters), className="under")],
        className="plate",
    )
    return html.Div([heading(_TITLE, told), sheet])


PAGE = Page(path="/worth-a-look", name=_TITLE, layout=guarded_layout(_TITLE, _layout))
