"""What limited a frame, as bars."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboards.theme import PLAIN, VERDICT_COLOURS, quiet, says

__all__ = ["limits_chart"]

_WORST = VERDICT_COLOURS["too-long"]


def limits_chart(causes: pd.DataFrame, names: dict[str, str], limiting: str | None) -> go.Figure:
    """
    Draw each cause of blur as long as the smear that would cost as much contrast.

    Parameters
    ----------
    causes : pandas.DataFrame
        ``cause, smear_low_um, smear_high_um``.
    names : dict
        Cause to its words.
    limiting : str or None
        The worst one, which is marked by colour, hatching and a word.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    known = causes[np.isfinite(causes["smear_low_um"])]
    if known.empty:
        return says("Nothing of it is known for this frame.")
    low, high = known["smear_low_um"].to_numpy(float), known["smear_high_um"].to_numpy(float)
    worst = (known["cause"] == limiting).to_numpy()
    labels = [names[cause] for cause in known["cause"]]
    figure = go.Figure(
        go.Bar(
            y=labels,
            x=high,
            orientation="h",
            marker={
                "color": np.where(worst, _WORST, PLAIN).tolist(),
                "pattern": {"shape": np.where(worst, "/", "").tolist(), "fgcolor": "#ffffff", "size": 6},
            },
            error_x={
                "type": "data", "symmetric": False, "array": np.zeros(len(low)), "arrayminus": high - low,
                "color": "#8a8479", "thickness": 2, "visible": bool((high - low > 0.05).any()),
            },
            text=[f"{_told(a, b)}{' – the most' if it else ''}" for a, b, it in zip(low, high, worst, strict=True)],
            textposition="outside",
            cliponaxis=False,
            hovertemplate="%{y}: %{text}<extra></extra>",
        )
    )  # fmt: skip
    quiet(figure, x_title="as a smear on the sensor, µm")
    figure.update_layout(showlegend=False)
    figure.update_xaxes(range=[0, 1.35 * max(float(high.max()), 0.1)])
    figure.update_yaxes(autorange="reversed", showgrid=False)
    return figure


def _told(low: float, high: float) -> str:
    if high < 0.05:
        return "none"
    return f"{high:.1f} µm" if high - low <= 0.05 else f"{low:.1f} to {high:.1f} µm"
