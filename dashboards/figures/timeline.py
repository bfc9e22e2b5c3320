"""What was shot with what, frame by frame."""

from __future__ import annotations

from typing import Any

import pandas as pd
import plotly.graph_objects as go

from dashboards.figures.settings import pattern_of
from dashboards.theme import VERDICT_COLOURS, quiet, says
from dashboards.words import VERDICTS, count_of, for_chart, millimetres, moment, said

__all__ = ["MOST_RUNS", "timeline_chart"]

MOST_RUNS = 1500
"""More runs than this are not drawn: each is a shape that the browser keeps."""


def timeline_chart(runs: pd.DataFrame) -> go.Figure:
    """
    Draw a line a lens, and on it a bar for each run of frames, as wide as it has frames.

    Parameters
    ----------
    runs : pandas.DataFrame
        Columns of ``runs.mounted_runs`` and ``mounted`` (lens and adapter in words) and ``body_name``.

    Returns
    -------
    plotly.graph_objects.Figure
        The axis counts frames, since nights without any would be most of a clock's axis; days are marked.
    """
    if runs.empty:
        return says("No frame here has a time.")
    if len(runs) > MOST_RUNS:
        return says("Too many changes of lens or setting to draw at once: choose a trip or fewer days.")
    figure = go.Figure()
    begun = runs.groupby(["mounted", runs["lens"].isna()], sort=False)["first_at"].min().reset_index()
    rows = begun.sort_values(["lens", "first_at"], ascending=False)["mounted"].tolist()
    for verdict in ("too-long", "too-short", "right", "unknown", "not-needed"):
        shown = runs[runs["setting_verdict"].astype("str").fillna("unknown") == verdict]
        if shown.empty:
            continue
        figure.add_bar(
            orientation="h",
            base=shown["first_at"],
            x=shown["last_at"] - shown["first_at"] + 1,
            y=[_padded(mounted) for mounted in shown["mounted"]],
            name=said(VERDICTS, verdict),
            marker={"color": VERDICT_COLOURS[verdict], "line": {"width": 0}, "pattern": pattern_of(verdict)},
            customdata=[_told(row) for _, row in shown.iterrows()],
            hovertemplate="%{customdata}<extra></extra>",
        )
    quiet(figure)
    figure.update_layout(barmode="overlay", bargap=0.45)
    figure.update_yaxes(categoryorder="array", categoryarray=[_padded(row) for row in rows], showgrid=False)
    _mark_days(figure, runs)
    return figure


def _padded(mounted: str) -> str:
    """Put the adapter under the lens, so that a phone has room for the bars."""
    return "<br>".join(f"{part}  " for part in for_chart(mounted).replace(" + ", "\n+ ", 1).split("\n"))


def _mark_days(figure: go.Figure, runs: pd.DataFrame) -> None:
    """Put a line and a date where the first frame of a day is."""
    begun = runs.assign(day=runs["first"].dt.normalize()).groupby("day")["first_at"].min()
    few = begun if len(begun) <= 12 else begun.iloc[:: -(-len(begun) // 12)]
    figure.update_xaxes(
        tickvals=few.to_list(),
        ticktext=[f"{day.day} {day:%b}" for day in few.index],
        range=[0, int(runs["last_at"].max()) + 1],
        showgrid=True,
        zeroline=False,
    )


def _told(run: pd.Series[Any]) -> str:
    lines = [
        f"<b>{for_chart(str(run['mounted']))}</b>",
        f"{moment(run['first'])} to {moment(run['last'], run['first'])}, {count_of(int(run['frames']), 'frame')}",
        for_chart(str(run["body_name"])),
    ]
    if pd.notna(run["setting_mm"]):
        right = f", right {millimetres(float(run['right_setting_mm']))}" if pd.notna(run["right_setting_mm"]) else ""
        lines.append(f"Set to {millimetres(float(run['setting_mm']))}{right}")
    return "<br>".join(line for line in lines if line)
