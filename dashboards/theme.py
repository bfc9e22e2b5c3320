"""Colours, type and the quiet frame of every chart. The page's own colours are in assets/look.css."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import plotly.graph_objects as go
from dash import dcc

__all__ = ["CHART_CONFIG", "MANTINE", "PATTERNS", "PLAIN", "VERDICT_COLOURS", "quiet", "says"]

PLAIN = "#2f7f86"
"""The one colour of a chart that needs only one."""

# Mid tones that keep at least 3:1 on the light and on the dark sheet (WCAG 2.2, 1.4.11), so charts need no redraw;
# teal, ochre and plum stay apart for the usual kinds of colour blindness, and each has its own hatching as well.
VERDICT_COLOURS: Mapping[str, str] = MappingProxyType(
    {"right": PLAIN, "too-short": "#b5760f", "too-long": "#a8506f", "unknown": "#8a8479", "not-needed": "#b9b2a4"}
)
PATTERNS: Mapping[str, str] = MappingProxyType(
    {"right": "", "too-short": "/", "too-long": "x", "unknown": ".", "not-needed": ""}
)

_RULE = "rgba(138,130,115,0.28)"
_SANS = "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, sans-serif"

CHART_CONFIG: dcc.Graph.Config = {
    "displaylogo": False,
    "responsive": True,
    "displayModeBar": False,
    "modeBarButtonsToRemove": ["sendChartToCloud"],
}

# Ten steps of the plain colour, light to dark, as the component library wants them.
_TEAL = (
    "#e9f4f3", "#d3e7e6", "#a8d0cf", "#79b6b6", "#549fa1", "#3d9194", "#2f7f86", "#23696f", "#1b575d", "#12454b",
)  # fmt: skip

MANTINE: Mapping[str, Any] = MappingProxyType(
    {
        "primaryColor": "teal",
        "colors": {"teal": list(_TEAL)},
        "primaryShade": {"light": 8, "dark": 7},
        "fontFamily": _SANS,
        "defaultRadius": "sm",
        "autoContrast": True,
    }
)


def quiet(figure: go.Figure, *, x_title: str = "", y_title: str = "") -> go.Figure:
    """
    Give a chart the pages' frame: no background of its own, hairlines, a legend above, nothing to drag.

    Parameters
    ----------
    figure : plotly.graph_objects.Figure
        Changed in place.
    x_title, y_title : str
        With the unit.

    Returns
    -------
    plotly.graph_objects.Figure
        The same figure.
    """
    figure.update_layout(
        template=None,
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"family": _SANS, "size": 13, "color": "#6b665d"},
        margin={"l": 8, "r": 12, "t": 12, "b": 8},
        legend={"orientation": "h", "x": 0, "y": 1.02, "yanchor": "bottom", "xanchor": "left", "traceorder": "normal"},
        hoverlabel={"bgcolor": "#2b2a27", "bordercolor": "#2b2a27", "font": {"color": "#f6f1e7", "family": _SANS}},
        dragmode=False,
        bargap=0.35,
    )
    axis = {"automargin": True, "gridcolor": _RULE, "zerolinecolor": _RULE, "linecolor": _RULE, "fixedrange": True}
    figure.update_xaxes(title_text=x_title, **axis)
    figure.update_yaxes(title_text=y_title, **axis)
    return figure


def says(sentence: str) -> go.Figure:
    """
    Return an empty chart that says why it is empty.

    Parameters
    ----------
    sentence : str

    Returns
    -------
    plotly.graph_objects.Figure
    """
    figure = quiet(go.Figure())
    figure.update_xaxes(visible=False)
    figure.update_yaxes(visible=False)
    figure.add_annotation(text=sentence, showarrow=False, x=0.5, y=0.5, xref="paper", yref="paper")
    return figure
