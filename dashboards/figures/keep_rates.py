"""Keep rates with their intervals, and beside them the share of sharp frames where frames were measured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboards.figures.settings import pattern_of
from dashboards.theme import PLAIN, VERDICT_COLOURS, quiet, says
from dashboards.words import count_of, for_chart, percent

__all__ = ["keep_rate_chart", "keep_rate_steps", "kept_and_sharp_chart"]


@dataclass(frozen=True)
class _Series:
    """One of the rates: its columns, how it is called and drawn, and what its frames are called."""

    name: str
    hits: str
    of: str
    rate: str
    low: str
    high: str
    colour: str
    symbol: str
    told: str


_KEPT = _Series("kept", "kept", "judged", "keep_rate", "low", "high", PLAIN, "circle", "judged frame")
_SHARP = _Series(
    "sharp", "sharp", "sharp_judged", "sharp_rate", "sharp_low", "sharp_high", "#b5760f", "diamond",
    "frame whose blur is told",
)  # fmt: skip

_FIELD_LOOKS = {"kept_sharp": "right", "kept_soft": "too-short", "left_sharp": "not-needed", "left_soft": "unknown"}
"""Fields of kept against sharp, each drawn as one of the verdicts is."""


def keep_rate_chart(rates: pd.DataFrame) -> go.Figure:
    """
    Draw one dot and interval a row: share of the judged frames that was kept; below it the share that is sharp.

    Parameters
    ----------
    rates : pandas.DataFrame
        Columns ``name, frames, judged, kept, keep_rate, low, high`` and, where frames were measured, ``sharp,
        sharp_judged, sharp_rate, sharp_low, sharp_high`` (``rates.keep_rates``). Rows without a frame that is judged
        or told are left to the table beside the chart.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    shown = rates[_any(rates)].iloc[::-1]
    if shown.empty:
        return says("No frame here was judged yet, so there is no keep rate.")
    figure = go.Figure()
    for series in _drawn(shown):
        rows = shown[shown[series.of] > 0]
        figure.add_scatter(
            x=100 * rows[series.rate],
            y=[f"{for_chart(name)}  " for name in rows["name"]],
            error_x=_whiskers(rows, series),
            orientation="h",
            **_look(rows, series, several=len(_drawn(shown)) > 1),
        )
    quiet(figure, x_title=_title(shown))
    figure.update_layout(scattermode="group", scattergap=0.6)
    figure.update_xaxes(range=[0, _most(shown)], ticksuffix=" %", nticks=6)
    figure.update_yaxes(
        showgrid=False, ticks="", categoryorder="array",
        categoryarray=[f"{for_chart(name)}  " for name in shown["name"]],
    )  # fmt: skip
    return figure


def _any(rates: pd.DataFrame) -> pd.Series[bool]:
    """Return which rows have a rate."""
    return rates[[series.of for series in (_KEPT, _SHARP) if series.of in rates]].gt(0).any(axis=1)


def _drawn(rates: pd.DataFrame) -> list[_Series]:
    return [series for series in (_KEPT, _SHARP) if series.of in rates and rates[series.of].gt(0).any()]


def _title(rates: pd.DataFrame) -> str:
    return f"{', '.join(series.name for series in _drawn(rates))}, %"


def _most(rates: pd.DataFrame) -> float:
    """Return the end of the scale, a whole tenth above the highest interval; a mark at 100 % needs some room. [%]."""
    highest = max(float(rates[series.high].max()) for series in _drawn(rates))
    whole = 10 * float(np.ceil(10 * highest))
    return whole if whole < 100 else _ALL_OF_THEM


_ALL_OF_THEM = 104.0


def _look(rows: pd.DataFrame, series: _Series, *, several: bool) -> dict[str, Any]:
    return {
        "mode": "markers",
        "name": series.name.capitalize(),
        "offsetgroup": series.name,
        "cliponaxis": False,
        "marker": {"size": 11, "color": series.colour, "symbol": series.symbol, "line": {"width": 0}},
        "customdata": [_told(row, series) for _, row in rows.iterrows()],
        "hovertemplate": "%{customdata}<extra></extra>",
        "showlegend": several,
    }


def _whiskers(rows: pd.DataFrame, series: _Series) -> dict[str, Any]:
    """Return the interval around each rate, in per cent; in a colour of ours, a template's would vanish by night."""
    return {
        "type": "data",
        "symmetric": False,
        "array": 100 * (rows[series.high] - rows[series.rate]),
        "arrayminus": 100 * (rows[series.rate] - rows[series.low]),
        "color": series.colour,
        "thickness": 2,
        "width": 6,
    }


def _told(row: pd.Series[float], series: _Series) -> str:
    return (
        f"<b>{for_chart(str(row['name']))}</b>"
        f"<br>{int(row[series.hits])} {series.name} of {_of(int(row[series.of]), series.told)}"
        f"<br>{percent(row[series.rate])}, 95 % interval {percent(row[series.low])} to {percent(row[series.high])}"
    )


def _of(count: int, told: str) -> str:
    first, _, rest = told.partition("frame")
    return count_of(count, f"{first}frame", f"{first}frames") + rest


def keep_rate_steps(rates: pd.DataFrame, x_title: str) -> go.Figure:
    """
    Draw rates over an ordered scale, such as stops.

    Parameters
    ----------
    rates : pandas.DataFrame
        Columns as for ``keep_rate_chart``, in order of the scale.
    x_title : str

    Returns
    -------
    plotly.graph_objects.Figure
    """
    shown = rates[_any(rates)]
    if shown.empty:
        return says("No judged frame here has a place on this scale.")
    figure = go.Figure()
    for series in _drawn(shown):
        rows = shown[shown[series.of] > 0]
        figure.add_scatter(
            x=[for_chart(name) for name in rows["name"]],
            y=100 * rows[series.rate],
            error_y=_whiskers(rows, series),
            **_look(rows, series, several=len(_drawn(shown)) > 1),
        )
    quiet(figure, x_title=x_title, y_title=_title(shown))
    scale = [for_chart(name) for name in rates["name"]]
    figure.update_layout(scattermode="group", scattergap=0.5)
    figure.update_xaxes(
        type="category", categoryorder="array", categoryarray=scale, range=[-0.5, len(scale) - 0.5], showgrid=False
    )
    figure.update_yaxes(range=[0, _most(shown)], ticksuffix=" %", nticks=6)
    return figure


def kept_and_sharp_chart(fields: pd.DataFrame, names: dict[str, str]) -> go.Figure:
    """
    Draw one bar a lens, parted by what was kept and what is sharp.

    Parameters
    ----------
    fields : pandas.DataFrame
        Columns ``name``, ``both`` and one for each of ``names`` (``sharp_rates.kept_and_sharp_by_lens``).
    names : dict
        What the fields are called.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    if fields.empty:
        return says("No frame here was both judged and measured with an answer.")
    shown = fields.iloc[::-1]
    figure = go.Figure()
    for field, name in names.items():
        look = _FIELD_LOOKS[field]
        figure.add_bar(
            x=100 * shown[field] / shown["both"],
            y=[f"{for_chart(lens)}  " for lens in shown["name"]],
            orientation="h",
            name=name,
            marker={"color": VERDICT_COLOURS[look], "line": {"width": 0}, "pattern": pattern_of(look)},
            customdata=[
                f"<b>{for_chart(str(lens))}</b><br>{name}: {count} of {count_of(int(both), 'frame')}"
                for lens, count, both in zip(shown["name"], shown[field], shown["both"], strict=True)
            ],
            hovertemplate="%{customdata}<extra></extra>",
        )
    quiet(figure, x_title="share of the frames, %")
    figure.update_layout(barmode="stack")
    figure.update_xaxes(range=[0, 100], ticksuffix=" %", nticks=6)
    figure.update_yaxes(showgrid=False, ticks="")
    return figure
