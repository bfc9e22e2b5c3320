"""The hand and a setting test: what was measured, with what was fitted to it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go
from plotly.subplots import make_subplots

from dashboards.theme import PLAIN, VERDICT_COLOURS, quiet, says
from dashboards.words import count_of, exposure, for_chart, millimetres, percent, spread

__all__ = ["SHARE_PANEL_PX", "STATES", "keep_share_chart", "series_chart"]

SHARE_PANEL_PX = 250
"""Height of one panel of the chart of kept shares. [px]"""

STATES: Mapping[str, str] = {
    "set right": "Stabiliser on, set within 10 %",
    "set wrong": "Stabiliser on, set wrong",
    "off": "Stabiliser off",
}

_LOOKS = (
    (PLAIN, "circle"),
    (VERDICT_COLOURS["too-short"], "square"),
    (VERDICT_COLOURS["too-long"], "diamond"),
    (VERDICT_COLOURS["unknown"], "triangle-up"),
    (PLAIN, "cross"),
)
_MOST_TICKS = 5
_APART = 0.09  # bands beside each other, so that their intervals do not hide one another [stop]


def keep_share_chart(shares: pd.DataFrame) -> go.Figure:
    """
    Draw the kept share over shutter time, a mark a band of focal lengths, with the fit's as a line.

    Parameters
    ----------
    shares : pandas.DataFrame
        Columns ``stabiliser, focal, exposure_time_s, frames, kept, kept_share, low, high, fitted``.

    Returns
    -------
    plotly.graph_objects.Figure
        A panel for each state of the stabiliser that occurs, one below the other.
    """
    if shares.empty:
        return says("No judged frame can be used.")
    states = [state for state in STATES if (shares["stabiliser"] == state).any()]
    figure = make_subplots(
        rows=len(states), cols=1, shared_xaxes=True, vertical_spacing=0.14 / len(states),
        subplot_titles=[STATES[state] for state in states],
    )  # fmt: skip
    order = shares.assign(first=shares["focal"].str.extract(r"(\d+)")[0].astype(float))
    order["first"] = order["first"].where(~order["focal"].str.startswith("up to"), 0.0)
    bands = list(order.sort_values("first")["focal"].drop_duplicates())
    for row, state in enumerate(states, start=1):
        for place, band in enumerate(bands):
            own = shares[(shares["stabiliser"] == state) & (shares["focal"] == band)].sort_values("exposure_time_s")
            if len(own):
                earlier = any(((shares["stabiliser"] == one) & (shares["focal"] == band)).any()
                              for one in states[: row - 1])  # fmt: skip
                for trace in _band(own, band, place, is_first=not earlier):
                    figure.add_trace(trace, row=row, col=1)
    quiet(figure, y_title="kept")
    figure.update_yaxes(range=[-0.03, 1.03], tickformat=".0%", nticks=5)
    times = np.sort(shares["exposure_time_s"].unique())
    shown = times[:: 1 + (len(times) - 1) // _MOST_TICKS]
    figure.update_xaxes(
        tickvals=np.log2(shown), ticktext=[exposure(float(time)).removesuffix(" s") for time in shown], tickangle=0,
        range=[np.log2(times[0]) - 0.6, np.log2(times[-1]) + 0.6], autorange=False,
    )  # fmt: skip
    figure.update_xaxes(title_text="exposure time, s", row=len(states), col=1)
    figure.update_annotations(x=0, xanchor="left", font={"size": 13, "color": "#6b665d"})
    figure.update_layout(margin={"t": 84}, legend={"y": 1.0, "yref": "container", "yanchor": "top"})
    return figure


def _band(own: pd.DataFrame, band: str, place: int, *, is_first: bool) -> list[go.Scatter]:
    colour, symbol = _LOOKS[place % len(_LOOKS)]
    at = np.log2(own["exposure_time_s"].to_numpy(float)) + _APART * (place - 1)
    share = own["kept_share"].to_numpy(float)
    same: dict[str, Any] = {"legendgroup": band, "x": at}
    told = [
        f"<b>{for_chart(band)}</b>, {exposure(float(row['exposure_time_s']))}<br>kept {row['kept']} of "
        f"{count_of(int(row['frames']), 'frame')}: {percent(row['kept_share'])}<br>nine in ten "
        f"{spread(float(row['low']), float(row['high']))}<br>fitted {percent(row['fitted'])}"
        for _, row in own.iterrows()
    ]
    return [
        go.Scatter(
            y=own["fitted"], mode="lines", line={"color": colour, "width": 2, "dash": "dot"}, showlegend=False,
            hoverinfo="skip", **same,
        ),
        go.Scatter(
            y=share, mode="markers", name=for_chart(band), showlegend=is_first,
            marker={"size": 9, "color": colour, "symbol": symbol, "line": {"width": 0}},
            error_y={
                "type": "data", "symmetric": False, "array": own["high"] - share, "arrayminus": share - own["low"],
                "color": colour, "thickness": 1.5, "width": 4,
            },
            customdata=told, hovertemplate="%{customdata}<extra></extra>", cliponaxis=False, **same,
        ),
    ]  # fmt: skip


def series_chart(
    frames: pd.DataFrame, curve: pd.DataFrame, best: tuple[float, float, float], predicted_mm: float, y_title: str
) -> go.Figure:
    """
    Draw a setting test: every frame, the mean of each setting, the fitted curve, the best setting.

    Parameters
    ----------
    frames : pandas.DataFrame
        Columns ``setting_mm, response``.
    curve : pandas.DataFrame
        Columns ``setting_mm, fitted``; NaN where there is no curve.
    best : (best, low, high)
        Best setting and the ends of its interval. [mm]
    predicted_mm : float
        What the kit lets expect. [mm]
    y_title : str
        With the unit.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    if frames.empty:
        return says("There is no frame to show.")
    figure = go.Figure(
        go.Scatter(
            x=frames["setting_mm"], y=frames["response"], mode="markers", name="a frame",
            marker={"size": 6, "color": VERDICT_COLOURS["unknown"], "opacity": 0.6},
            hovertemplate="%{x:g} mm: %{y:.3g}<extra></extra>",
        )
    )  # fmt: skip
    means = frames.groupby("setting_mm")["response"].agg(["mean", "size"])
    figure.add_scatter(
        x=means.index, y=means["mean"], mode="markers", name="mean of a setting",
        marker={"size": 11, "color": PLAIN, "symbol": "diamond"},
        customdata=[count_of(int(number), "frame") for number in means["size"]],
        hovertemplate="%{x:g} mm: %{y:.3g}, mean of %{customdata}<extra></extra>",
    )  # fmt: skip
    if curve["fitted"].notna().any():
        figure.add_scatter(
            x=curve["setting_mm"], y=curve["fitted"], mode="lines", name="fitted",
            line={"color": PLAIN, "width": 2, "dash": "dot"}, hoverinfo="skip",
        )  # fmt: skip
    quiet(figure, x_title="typed setting, mm", y_title=y_title)
    middle, low, high = best
    figure.add_vrect(x0=low, x1=high, fillcolor=PLAIN, opacity=0.16, line_width=0)
    figure.add_vline(x=middle, line={"color": PLAIN, "width": 2})
    figure.add_vline(x=predicted_mm, line={"color": VERDICT_COLOURS["too-long"], "width": 2, "dash": "dash"})
    figure.add_annotation(x=middle, y=1, yref="paper", yanchor="bottom", showarrow=False,
                          text=f"best {millimetres(middle)}",
                          xanchor="left" if middle >= predicted_mm else "right")  # fmt: skip
    figure.add_annotation(x=predicted_mm, y=1, yref="paper", yanchor="bottom", showarrow=False,
                          text=f"expected {millimetres(predicted_mm)}",
                          xanchor="right" if middle >= predicted_mm else "left")  # fmt: skip
    figure.update_yaxes(rangemode="tozero")
    figure.update_layout(margin={"t": 90}, legend={"y": 1.0, "yref": "container", "yanchor": "top"})
    return figure
