"""What was weighed: differences under the same conditions, and what would be out of reach."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from dashboards.theme import PATTERNS, PLAIN, VERDICT_COLOURS, quiet, says
from dashboards.words import count_of, for_chart

__all__ = ["fair_chart", "reach_chart"]


def fair_chart(fair: pd.DataFrame) -> go.Figure:
    """
    Draw one dot and interval a row: points of keep rate more or less than the others, under the same conditions.

    Parameters
    ----------
    fair : pandas.DataFrame
        Columns ``name, points, low, high, verdict`` (``weighed.fair_rates``). Rows that cannot be compared are
        left to the table beside the chart.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    compared = fair.dropna(subset=["points"]).iloc[::-1]
    if compared.empty:
        return says("Nothing can be compared under the same conditions yet.")
    figure = go.Figure(
        go.Scatter(
            x=compared["points"],
            y=[f"{for_chart(name)}  ".replace(" + ", " +  <br>") for name in compared["name"]],
            mode="markers",
            cliponaxis=False,
            marker={"size": 11, "color": PLAIN, "line": {"width": 0}},
            error_x={
                "type": "data", "symmetric": False, "array": compared["high"] - compared["points"],
                "arrayminus": compared["points"] - compared["low"], "color": PLAIN, "thickness": 2, "width": 6,
            },
            customdata=[
                f"<b>{for_chart(str(row['name']))}</b><br>{round(row['points']):+d} points against the others"
                f"<br>95 % interval {row['low']:+.0f} to {row['high']:+.0f}<br>{row['verdict']}"
                for _, row in compared.iterrows()
            ],
            hovertemplate="%{customdata}<extra></extra>",
            showlegend=False,
        )
    )  # fmt: skip
    quiet(figure, x_title="difference, points")
    figure.update_xaxes(zeroline=True, zerolinecolor="#8a8479", zerolinewidth=2, nticks=5, tickangle=0)
    figure.update_yaxes(showgrid=False, ticks="")
    return figure


def reach_chart(bands: pd.DataFrame) -> go.Figure:
    """
    Draw a bar a band of focal lengths: keepers that stay in reach and those that do not.

    Parameters
    ----------
    bands : pandas.DataFrame
        Columns ``focal, keepers, before, after, lost`` (``weighed.thought``).

    Returns
    -------
    plotly.graph_objects.Figure
    """
    if bands.empty:
        return says("No keeper has a known focal length yet.")
    figure = go.Figure()
    for column, name, look in (("after", "Still in reach", "right"), ("lost", "Out of reach then", "too-long")):
        figure.add_bar(
            x=[str(band) for band in bands["focal"]],
            y=bands[column],
            name=name,
            marker={
                "color": VERDICT_COLOURS[look],
                "line": {"width": 0},
                "pattern": {"shape": PATTERNS[look], "fillmode": "overlay", "fgcolor": "#fffdf8", "size": 7},
            },
            customdata=[
                f"<b>{row['focal']}</b><br>{name}: {row[column]} of {count_of(int(row['keepers']), 'keeper')}"
                for _, row in bands.iterrows()
            ],
            hovertemplate="%{customdata}<extra></extra>",
        )
    quiet(figure, x_title="focal length used, with its adapter", y_title="Keepers")
    figure.update_layout(barmode="stack")
    figure.update_xaxes(type="category", showgrid=False)
    return figure
