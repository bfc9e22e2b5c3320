"""How a lens's right setting changes with the focus distance."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboards.theme import PLAIN, quiet
from dashboards.words import millimetres

__all__ = ["breathing_chart"]


def breathing_chart(measured: Sequence[tuple[float, float]], focal_mm: float) -> go.Figure:
    """
    Draw the measured right settings over focus distance, with the value at infinity as a line.

    Parameters
    ----------
    measured : sequence of (focus distance, right setting)
        Without adapter. [m, mm]
    focal_mm : float
        The right setting at infinity. [mm]

    Returns
    -------
    plotly.graph_objects.Figure
        Points are joined to guide the eye; nothing is drawn beyond them.
    """
    points = sorted(measured)
    figure = go.Figure(
        go.Scatter(
            x=[distance for distance, _ in points],
            y=[setting for _, setting in points],
            mode="lines+markers",
            marker={"size": 9, "color": PLAIN},
            line={"color": PLAIN, "width": 2, "dash": "dot"},
            customdata=[f"at {distance:g} m: {millimetres(setting)}" for distance, setting in points],
            hovertemplate="%{customdata}<extra></extra>",
            showlegend=False,
        )
    )
    quiet(figure, x_title="focus distance, m", y_title="right setting, mm")
    figure.add_hline(
        y=focal_mm, line={"color": PLAIN, "width": 1}, annotation_text=f"infinity: {millimetres(focal_mm)}"
    )
    figure.update_xaxes(type="log", tickvals=[0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 5, 10, 20])
    return figure
