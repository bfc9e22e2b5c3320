"""The stabiliser's setting, over time."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from dashboards.theme import PATTERNS, VERDICT_COLOURS, quiet, says
from dashboards.words import VERDICTS, count_of, for_chart, percent, said

__all__ = ["verdict_chart"]

# The wrong ones stand on the ground line, where heights can be compared from bar to bar.
_UPWARDS = ("too-long", "too-short", "unknown", "right", "not-needed")


def verdict_chart(verdicts: pd.DataFrame) -> go.Figure:
    """
    Draw a bar a period, split by the verdict on the setting.

    Parameters
    ----------
    verdicts : pandas.DataFrame
        Columns ``start, period, setting_verdict, frames`` (``summaries.verdicts_over_time``).

    Returns
    -------
    plotly.graph_objects.Figure
        Periods side by side in order of time, without room for those that have no frame.
    """
    if verdicts.empty:
        return says("No frame here has a time.")
    periods = verdicts.drop_duplicates("start").sort_values("start")["period"].tolist()
    in_period = verdicts.groupby("period")["frames"].sum()
    figure = go.Figure()
    for verdict in [*_UPWARDS, *sorted(set(verdicts["setting_verdict"]) - set(_UPWARDS))]:
        rows = verdicts[verdicts["setting_verdict"] == verdict]
        if rows.empty:
            continue
        name = for_chart(said(VERDICTS, verdict))
        figure.add_bar(
            x=rows["period"],
            y=rows["frames"],
            name=name,
            marker={
                "color": VERDICT_COLOURS.get(verdict, VERDICT_COLOURS["unknown"]),
                "line": {"width": 0},
                "pattern": {
                    "shape": PATTERNS.get(verdict, "+"),
                    "fillmode": "overlay",
                    "fgcolor": "#fffdf8",
                    "fgopacity": 0.4 if verdict == "unknown" else 0.75,
                    "size": 7,
                    "solidity": 0.22,
                },
            },
            customdata=[
                f"<b>{period}</b><br>{name}: {count_of(int(frames), 'frame')} of {int(in_period[period])}"
                f" ({percent(frames / in_period[period])})"
                for period, frames in zip(rows["period"], rows["frames"], strict=True)
            ],
            hovertemplate="%{customdata}<extra></extra>",
        )
    quiet(figure, y_title="Frames")
    figure.update_layout(barmode="stack", bargap=0.3)
    figure.update_xaxes(type="category", categoryorder="array", categoryarray=periods, showgrid=False, nticks=12)
    return figure
