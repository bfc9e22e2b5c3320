"""The stabiliser's setting, over time."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboards.theme import PATTERNS, PLAIN, VERDICT_COLOURS, quiet, says
from dashboards.words import CAUSES, VERDICTS, count_of, for_chart, millimetres, percent, said, stops

__all__ = ["cause_chart", "lens_chart", "pattern_of", "typed_chart", "verdict_chart"]

# The wrong ones stand on the ground line, where heights can be compared from bar to bar.
_FOCAL_TICKS_MM = (8, 12, 16, 20, 24, 28, 35, 50, 70, 85, 100, 135, 200, 300, 400, 600, 800)
_UPWARDS = ("too-long", "too-short", "unknown", "right", "not-needed")


def pattern_of(verdict: str) -> dict[str, Any]:
    """Return the hatching of a verdict, so that colour alone never tells it."""
    return {
        "shape": PATTERNS.get(verdict, "+"),
        "fillmode": "overlay",
        "fgcolor": "#fffdf8",
        "fgopacity": 0.4 if verdict == "unknown" else 0.75,
        "size": 7,
        "solidity": 0.22,
    }


def _marker(verdict: str) -> dict[str, Any]:
    colour = VERDICT_COLOURS.get(verdict, VERDICT_COLOURS["unknown"])
    return {"color": colour, "line": {"width": 0}, "pattern": pattern_of(verdict)}


def verdict_chart(verdicts: pd.DataFrame) -> go.Figure:
    """
    Draw a bar a period, split by the verdict on the setting.

    Parameters
    ----------
    verdicts : pandas.DataFrame
        Columns ``start, period, setting_verdict, frames`` (``verdicts.verdicts_over_time``).

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
            marker=_marker(verdict),
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


def lens_chart(lenses: pd.DataFrame) -> go.Figure:
    """
    Draw a bar a lens: the shares of its frames by verdict on the setting.

    Parameters
    ----------
    lenses : pandas.DataFrame
        Columns ``name, setting_verdict, frames, share`` (``verdicts.verdicts_by``), first on top.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    if lenses.empty:
        return says("No frame here.")
    figure = go.Figure()
    in_lens = lenses.groupby("name", sort=False)["frames"].sum()
    for verdict in [*_UPWARDS, *sorted(set(lenses["setting_verdict"]) - set(_UPWARDS))]:
        rows = lenses[lenses["setting_verdict"] == verdict]
        if rows.empty:
            continue
        name = for_chart(said(VERDICTS, verdict))
        figure.add_bar(
            orientation="h",
            y=[f"{for_chart(lens)}  " for lens in rows["name"]],
            x=100 * rows["share"],
            name=name,
            marker=_marker(verdict),
            customdata=[
                f"<b>{for_chart(lens)}</b><br>{name}: {count_of(int(frames), 'frame')} of {int(in_lens[lens])}"
                f" ({percent(share)})"
                for lens, frames, share in zip(rows["name"], rows["frames"], rows["share"], strict=True)
            ],
            hovertemplate="%{customdata}<extra></extra>",
        )
    quiet(figure, x_title="of its frames, %")
    figure.update_layout(barmode="stack")
    figure.update_xaxes(range=[0, 100], ticksuffix=" %", nticks=6)
    order = [f"{for_chart(lens)}  " for lens in in_lens.index[::-1]]
    figure.update_yaxes(categoryorder="array", categoryarray=order, showgrid=False)
    return figure


def cause_chart(causes: pd.DataFrame) -> go.Figure:
    """
    Draw a bar a cause: how many frames had a wrong setting for it.

    Parameters
    ----------
    causes : pandas.DataFrame
        Columns ``setting_cause, frames, stops_lost`` (``verdicts.causes``), first on top.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    if causes.empty:
        return says("No wrong setting was found here.")
    turned = causes.iloc[::-1]
    figure = go.Figure(
        go.Bar(
            orientation="h",
            y=[f"{for_chart(said(CAUSES, cause))}  " for cause in turned["setting_cause"]],
            x=turned["frames"],
            marker={"color": PLAIN, "line": {"width": 0}},
            customdata=[
                f"<b>{for_chart(said(CAUSES, row['setting_cause']))}</b>"
                f"<br>{count_of(int(row['frames']), 'frame')}<br>median cost {stops(row['stops_lost'])}"
                for _, row in turned.iterrows()
            ],
            hovertemplate="%{customdata}<extra></extra>",
        )
    )
    quiet(figure, x_title="frames")
    figure.update_yaxes(showgrid=False)
    return figure


_SHAPES = {"too-long": "triangle-up", "too-short": "triangle-down", "right": "circle", "unknown": "square"}


def typed_chart(pairs: pd.DataFrame) -> go.Figure:
    """
    Draw what was typed over what would have been right, both on logarithmic axes.

    Parameters
    ----------
    pairs : pandas.DataFrame
        Columns ``setting_mm, right_setting_mm, setting_verdict, name, frames`` (``verdicts.typed_and_right``).

    Returns
    -------
    plotly.graph_objects.Figure
        A mark a pair, its area growing with the number of frames, and the line on which both are equal.
    """
    if pairs.empty:
        return says("No frame here has both a typed and a right setting.")
    low = 0.8 * min(pairs["setting_mm"].min(), pairs["right_setting_mm"].min())
    high = 1.25 * max(pairs["setting_mm"].max(), pairs["right_setting_mm"].max())
    figure = go.Figure(
        go.Scatter(x=[low, high], y=[low, high], mode="lines", line={"color": PLAIN, "width": 1}, hoverinfo="skip",
                   showlegend=False)
    )  # fmt: skip
    largest = float(pairs["frames"].max())
    for verdict in [*_UPWARDS, *sorted(set(pairs["setting_verdict"]) - set(_UPWARDS))]:
        rows = pairs[pairs["setting_verdict"] == verdict]
        if rows.empty:
            continue
        figure.add_scatter(
            x=rows["right_setting_mm"],
            y=rows["setting_mm"],
            mode="markers",
            name=for_chart(said(VERDICTS, verdict)),
            marker={
                "symbol": _SHAPES.get(verdict, "square"),
                "size": 8 + 22 * (rows["frames"] / largest) ** 0.5,
                "color": VERDICT_COLOURS.get(verdict, VERDICT_COLOURS["unknown"]),
                "line": {"width": 0},
                "opacity": 0.85,
            },
            customdata=[
                f"<b>{for_chart(lens)}</b><br>set to {millimetres(typed)}, right {millimetres(right)}"
                f"<br>{count_of(int(frames), 'frame')}"
                for lens, typed, right, frames in zip(
                    rows["name"], rows["setting_mm"], rows["right_setting_mm"], rows["frames"], strict=True
                )
            ],
            hovertemplate="%{customdata}<extra></extra>",
        )
    quiet(figure, x_title="right setting, mm", y_title="set to, mm")
    ticks = [mm for mm in _FOCAL_TICKS_MM if low <= mm <= high]
    span = [float(np.log10(low)), float(np.log10(high))]
    figure.update_xaxes(type="log", tickvals=ticks, ticktext=[f"{mm}" for mm in ticks], range=span)
    figure.update_yaxes(type="log", tickvals=ticks, ticktext=[f"{mm}" for mm in ticks], range=span)
    figure.update_layout(legend={"itemsizing": "constant"})
    return figure
