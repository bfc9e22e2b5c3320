"""Keep rates with their intervals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboards.theme import PLAIN, quiet, says
from dashboards.words import count_of, for_chart, percent

__all__ = ["keep_rate_chart"]


def keep_rate_chart(rates: pd.DataFrame) -> go.Figure:
    """
    Draw one dot and interval a row: share of the judged frames that was kept.

    Parameters
    ----------
    rates : pandas.DataFrame
        Columns ``name, frames, judged, kept, keep_rate, low, high`` (``rates.keep_rates``). Rows
        without a judged frame are left to the table beside the chart.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    judged = rates[rates["judged"] > 0].iloc[::-1]
    if judged.empty:
        return says("No frame here was judged yet, so there is no keep rate.")
    figure = go.Figure(
        go.Scatter(
            x=100 * judged["keep_rate"],
            y=[f"{for_chart(name)}  " for name in judged["name"]],
            mode="markers",
            cliponaxis=False,
            marker={"size": 11, "color": PLAIN, "line": {"width": 0}},
            error_x=_whiskers(judged),
            customdata=[_told(row) for _, row in judged.iterrows()],
            hovertemplate="%{customdata}<extra></extra>",
            showlegend=False,
        )
    )
    quiet(figure, x_title="kept, %")
    figure.update_xaxes(range=[0, min(100.0, 10 * np.ceil(10 * judged["high"].max()))], ticksuffix=" %", nticks=6)
    figure.update_yaxes(showgrid=False, ticks="")
    return figure


def _whiskers(judged: pd.DataFrame) -> dict[str, Any]:
    """Return the interval around each rate, in per cent; in a colour of ours, a template's would vanish by night."""
    return {
        "type": "data",
        "symmetric": False,
        "array": 100 * (judged["high"] - judged["keep_rate"]),
        "arrayminus": 100 * (judged["keep_rate"] - judged["low"]),
        "color": PLAIN,
        "thickness": 2,
        "width": 6,
    }


def _told(row: pd.Series[float]) -> str:
    return (
        f"<b>{for_chart(str(row['name']))}</b>"
        f"<br>{int(row['kept'])} kept of {count_of(int(row['judged']), 'judged frame')}"
        f"<br>{percent(row['keep_rate'])}, 95 % interval {percent(row['low'])} to {percent(row['high'])}"
    )


def keep_rate_steps(rates: pd.DataFrame, x_title: str) -> go.Figure:
    """
    Draw keep rates over an ordered scale, such as stops.

    Parameters
    ----------
    rates : pandas.DataFrame
        Columns as for ``keep_rate_chart``, in order of the scale.
    x_title : str

    Returns
    -------
    plotly.graph_objects.Figure
    """
    judged = rates[rates["judged"] > 0]
    if judged.empty:
        return says("No judged frame here has a place on this scale.")
    figure = go.Figure(
        go.Scatter(
            x=[for_chart(name) for name in judged["name"]],
            y=100 * judged["keep_rate"],
            mode="markers",
            cliponaxis=False,
            marker={"size": 10, "color": PLAIN, "line": {"width": 0}},
            error_y=_whiskers(judged),
            customdata=[_told(row) for _, row in judged.iterrows()],
            hovertemplate="%{customdata}<extra></extra>",
            showlegend=False,
        )
    )
    quiet(figure, x_title=x_title, y_title="kept, %")
    scale = [for_chart(name) for name in rates["name"]]
    figure.update_xaxes(
        type="category", categoryorder="array", categoryarray=scale, range=[-0.5, len(scale) - 0.5], showgrid=False
    )
    figure.update_yaxes(range=[0, min(100.0, 10 * np.ceil(10 * judged["high"].max()))], ticksuffix=" %", nticks=6)
    return figure
