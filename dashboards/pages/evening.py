"""The first page, for the evening after the trip: what was kept, how the stabiliser was set, what to look at."""

from __future__ import annotations

import pandas as pd
from dash import html
from dash.development.base_component import Component

from dashboards import summaries
from dashboards.components import Page, chart, download, heading, plate, to_do
from dashboards.desk import Desk
from dashboards.figures.keep_rates import keep_rate_chart
from dashboards.figures.settings import verdict_chart
from dashboards.filters import Filters
from dashboards.flagged_grid import flagged_grid
from dashboards.words import VERDICTS, count_of, percent, said, spread

__all__ = ["PAGE", "layout"]

_NOTHING_YET = "Nothing has been indexed yet, so there is nothing to show."
_WHAT_TO_RUN = {
    "steadykeep index": "reads the frames of the archive; it never writes there",
    "steadykeep audit": "works out lens, setting and shake of each",
}


def layout(desk: Desk, filters: Filters) -> Component:
    """Lay the page."""
    if not len(desk):
        return html.Div([heading("After the trip"), to_do(_NOTHING_YET, _WHAT_TO_RUN)])
    if not desk.mask(filters).any():
        return html.Div([heading("After the trip"), to_do("No frame is left by what is chosen above.")])
    return html.Div(
        [heading("After the trip", summaries.opening(desk, filters)), _settings(desk, filters), _rates(desk, filters),
         _worth_a_look(desk, filters)]
    )  # fmt: skip


def _settings(desk: Desk, filters: Filters) -> Component:
    verdicts = summaries.verdicts_over_time(desk, filters)
    timeless = verdicts.attrs["without_time"]
    note = "How the focal length typed for the stabiliser compares with the right one."
    note += f" {count_of(timeless, 'frame')} without a usable time left out." if timeless else ""
    table = pd.DataFrame(
        {
            "Period": verdicts["period"],
            "Setting": [said(VERDICTS, verdict) for verdict in verdicts["setting_verdict"]],
            "Frames": verdicts["frames"],
        }
    )
    return plate(
        "The stabiliser's setting", chart("setting-verdicts", verdict_chart(verdicts), table, filters), note=note
    )


def _rates(desk: Desk, filters: Filters) -> Component:
    rates = summaries.keep_rates(desk, filters)
    table = pd.DataFrame(
        {
            "Lens": rates["name"],
            "Frames": rates["frames"],
            "Judged": rates["judged"],
            "Kept": rates["kept"],
            "Keep rate": [percent(rate) for rate in rates["keep_rate"]],
            "95 % interval": [spread(low, high) for low, high in zip(rates["low"], rates["high"], strict=True)],
        }
    )
    tall = 110 + 34 * max(int((rates["judged"] > 0).sum()), 3)
    return plate(
        "Kept, lens by lens",
        chart("keep-rates-by-lens", keep_rate_chart(rates), table, filters, tall_px=tall),
        note="A dot is the share kept of the frames that were judged; the line is its 95 % interval if frames were "
        "independent. Those of one burst are not, so the true doubt is wider. A rate is not proof: it knows nothing of "
        "light or distance.",
    )


def _worth_a_look(desk: Desk, filters: Filters) -> Component:
    found = len(desk.flagged_places(filters))
    if not found:
        return plate("Worth a look", html.P("No frame here is flagged."), wide=True)
    return plate(
        "Worth a look",
        flagged_grid(filters),
        html.Div(download("frames-worth-a-look", filters), className="under"),
        note=f"{count_of(found, 'frame')}, the worst first.",
        wide=True,
    )


PAGE = Page(path="/", name="After the trip", layout=layout)
