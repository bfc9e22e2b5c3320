"""The settings audit: how the stabiliser was set, over time, by lens and by cause."""

from __future__ import annotations

import pandas as pd
from dash import html
from dash.development.base_component import Component

from dashboards.components import Page, chart, guarded_layout, heading, plate
from dashboards.desk import Desk
from dashboards.figures.settings import cause_chart, lens_chart, typed_chart, verdict_chart
from dashboards.filters import Filters
from dashboards.verdicts import causes, typed_and_right, verdicts_by, verdicts_over_time
from dashboards.words import CAUSES, VERDICTS, count_of, millimetres, percent, said, stops

__all__ = ["PAGE"]

_TITLE = "Settings"


def _layout(desk: Desk, filters: Filters) -> Component:
    return html.Div(
        [
            heading(_TITLE, "The focal length typed for the stabiliser, against the one that would have been right."),
            html.Div(
                [_over_time(desk, filters), _by_lens(desk, filters), _by_cause(desk, filters), _typed(desk, filters)],
                className="plates",
            ),
        ]
    )


def _over_time(desk: Desk, filters: Filters) -> Component:
    verdicts = verdicts_over_time(desk, filters)
    timeless = verdicts.attrs["without_time"]
    note = "Each bar is a shooting day, or a month or year where there are many; days without a frame are left out."
    note += f" {count_of(timeless, 'frame')} without a usable time left out." if timeless else ""
    table = pd.DataFrame(
        {
            "Period": verdicts["period"],
            "Setting": [said(VERDICTS, verdict) for verdict in verdicts["setting_verdict"]],
            "Frames": verdicts["frames"],
        }
    )
    return plate("Over time", chart("setting-verdicts", verdict_chart(verdicts), table, filters), note=note, wide=True)


def _by_lens(desk: Desk, filters: Filters) -> Component:
    lenses = verdicts_by(desk, filters, "lens")
    table = pd.DataFrame(
        {
            "Lens": lenses["name"],
            "Setting": [said(VERDICTS, verdict) for verdict in lenses["setting_verdict"]],
            "Frames": lenses["frames"],
            "Of the lens's": [percent(share) for share in lenses["share"]],
        }
    )
    tall = 130 + 34 * max(lenses["key"].nunique(), 3)
    return plate(
        "Lens by lens",
        chart("setting-verdicts-by-lens", lens_chart(lenses), table, filters, tall_px=tall),
        note="Share of each lens's frames.",
    )


def _by_cause(desk: Desk, filters: Filters) -> Component:
    found = causes(desk, filters)
    table = pd.DataFrame(
        {
            "Cause": [said(CAUSES, cause) for cause in found["setting_cause"]],
            "Frames": found["frames"],
            "Stops lost, median": [stops(lost) for lost in found["stops_lost"]],
        }
    )
    tall = 110 + 38 * max(len(found), 3)
    return plate(
        "How wrong settings came about",
        chart("causes", cause_chart(found), table, filters, tall_px=tall),
        note="What the typed value fits: the likeliest slip, not a certainty.",
    )


def _typed(desk: Desk, filters: Filters) -> Component:
    pairs = typed_and_right(desk, filters)
    table = pd.DataFrame(
        {
            "Set to": [millimetres(typed) for typed in pairs["setting_mm"]],
            "Right": [millimetres(right) for right in pairs["right_setting_mm"]],
            "Setting": [said(VERDICTS, verdict) for verdict in pairs["setting_verdict"]],
            "Lens": pairs["name"],
            "Frames": pairs["frames"],
        }
    )
    return plate(
        "Typed against right",
        chart("typed-and-right", typed_chart(pairs), table, filters, tall_px=420),
        note="On the line the setting was right; above it too long, below it too short. Larger marks hold more frames. "
        "The right value is the one for the noted focus distance, or for infinity where none was noted.",
        wide=True,
    )


PAGE = Page(path="/settings", name=_TITLE, layout=guarded_layout(_TITLE, _layout), held=True)
