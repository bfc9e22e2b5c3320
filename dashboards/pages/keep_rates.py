"""Keep rates as counted: by lens, by how slow the exposure was, by aperture, body, adapter and trip."""

from __future__ import annotations

import pandas as pd
from dash import html
from dash.development.base_component import Component

from dashboards.components import Page, chart, guarded_layout, heading, plate
from dashboards.desk import Desk
from dashboards.figures.keep_rates import keep_rate_chart, keep_rate_steps
from dashboards.filters import Filters
from dashboards.rates import keep_rates, keep_rates_by_aperture, keep_rates_by_slowness
from dashboards.words import count_of, percent, spread

__all__ = ["PAGE", "rate_table"]

_TITLE = "Keep rates"


def _layout(desk: Desk, filters: Filters) -> Component:
    lens = keep_rates(desk, filters, "lens")
    judged = int(lens["judged"].sum())
    told = f"{count_of(int(lens['kept'].sum()), 'frame')} kept of {count_of(judged, 'judged frame')}"
    left = int(lens["frames"].sum()) - judged
    told += f"; {count_of(left, 'frame')} in trips that were never judged are not in any rate." if left else "."
    caution = (
        "These are plain counts: a lens used in the dark looks worse than it is. Intervals are at 95 % if frames were "
        "independent; those of one burst are not, so the true doubt is wider. A rate is not proof."
    )
    plates = [
        _plate("Lens by lens", "keep-rates-by-lens", lens, filters, "Lens"),
        _slow(desk, filters),
        _aperture(desk, filters),
        _plate("Body by body", "keep-rates-by-body", keep_rates(desk, filters, "body"), filters, "Body"),
        _plate(
            "Adapter by adapter", "keep-rates-by-adapter", keep_rates(desk, filters, "adapter"), filters,
            "Adapter",
        ),
        _plate("Trip by trip", "keep-rates-by-trip", keep_rates(desk, filters, "trip"), filters, "Trip"),
    ]  # fmt: skip
    return html.Div([heading(_TITLE, told), html.P(caution, className="note"), html.Div(plates, className="plates")])


def rate_table(rates: pd.DataFrame, first: str) -> pd.DataFrame:
    """Return keep rates as a reader sees them."""
    return pd.DataFrame(
        {
            first: rates["name"],
            "Frames": rates["frames"],
            "Judged": rates["judged"],
            "Kept": rates["kept"],
            "Keep rate": [percent(rate) for rate in rates["keep_rate"]],
            "95 % interval": [spread(low, high) for low, high in zip(rates["low"], rates["high"], strict=True)],
        }
    )


def _plate(title: str, name: str, rates: pd.DataFrame, filters: Filters, first: str) -> Component:
    tall = 100 + 34 * max(int((rates["judged"] > 0).sum()), 3)
    return plate(title, chart(name, keep_rate_chart(rates), rate_table(rates, first), filters, tall_px=tall))


def _slow(desk: Desk, filters: Filters) -> Component:
    rates = keep_rates_by_slowness(desk, filters)
    return plate(
        "By how slow the exposure was",
        chart(
            "keep-rates-by-slowness", keep_rate_steps(rates, "stops slower than 1 ÷ right setting"),
            rate_table(rates, "Stops slower"), filters,
        ),
        note="0 is an exposure of one second divided by the right setting in mm; 3 is eight times as long. "
        + _left_out(rates, "a lens, an exposure time or a right setting"),
    )  # fmt: skip


def _aperture(desk: Desk, filters: Filters) -> Component:
    rates = keep_rates_by_aperture(desk, filters)
    return plate(
        "By aperture",
        chart("keep-rates-by-aperture", keep_rate_steps(rates, "f-number, to the nearest stop"),
              rate_table(rates, "F-number"), filters),
        note=_left_out(rates, "a recorded aperture"),
    )  # fmt: skip


def _left_out(rates: pd.DataFrame, what: str) -> str:
    left = rates.attrs["left_out"]
    return f"{count_of(left, 'frame')} without {what} left out." if left else ""


PAGE = Page(path="/keep-rates", name=_TITLE, layout=guarded_layout(_TITLE, _layout))
