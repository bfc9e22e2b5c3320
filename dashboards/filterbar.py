"""The bar of filters above every page. What it says is in the address."""

from __future__ import annotations

import datetime as dt

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from dashboards.desk import Desk
from dashboards.filters import NOT_KNOWN, Filters

__all__ = ["CONTROLS", "filter_bar", "in_words"]

_SEVERAL = {"trip": "Trip", "body": "Body", "lens": "Lens", "adapter": "Adapter"}
_SEVERAL |= {"verdict": "Setting", "cause": "Cause of a wrong setting", "rating": "Rating"}

CONTROLS = (*(f"filter-{kind}" for kind in _SEVERAL), "filter-days")
"""Ids of the controls, in the order in which assets/address.js takes their values."""


def _choices(desk: Desk, kind: str) -> list[dict[str, str]]:
    if kind != "rating":
        return desk.choices(kind)
    stars = [{"value": str(stars), "label": f"{stars} of 5"} for stars in range(5, 0, -1)]
    return [*stars, {"value": "0", "label": "0"}, {"value": "-1", "label": "Rejected"},
            {"value": NOT_KNOWN, "label": "No rating"}]  # fmt: skip


def filter_bar(desk: Desk) -> Component:
    """
    Return the bar: closed it says what the pages are narrowed to, open it has a control for each filter.

    Parameters
    ----------
    desk : Desk
        For the choices: only what occurs is offered.
    """
    several = [
        dmc.MultiSelect(
            id=f"filter-{kind}",
            label=label,
            data=_choices(desk, kind),
            value=[],
            clearable=True,
            searchable=True,
            placeholder="All",
            nothingFoundMessage="None like that",
            comboboxProps={"withinPortal": False},
        )
        for kind, label in _SEVERAL.items()
    ]
    first, last = desk.span or (None, None)
    days = dmc.DatePickerInput(
        id="filter-days",
        label="Days, first to last",
        type="range",
        value=[None, None],
        valueFormat="D MMM YYYY",
        minDate=first.isoformat() if first else None,
        maxDate=last.isoformat() if last else None,
        clearable=True,
        allowSingleDateInRange=True,
        placeholder="All",
        popoverProps={"withinPortal": False},
    )
    said = html.Summary([html.Span("Showing ", className="quiet"), html.Span("all frames", id="filters-said")])
    return html.Div(
        html.Details([said, html.Div([*several, days], className="filters")]), className="filter-bar", role="search"
    )


def in_words(desk: Desk, filters: Filters) -> str:
    """
    Say what the pages are narrowed to.

    Examples
    --------
    >>> import pandas as pd
    >>> in_words(Desk(pd.DataFrame()), Filters(trip=("Harbour week",), rating=("5", "4")))
    'Harbour week · rating 5 or 4'
    """
    parts = [
        " or ".join(desk.name(kind, value) for value in getattr(filters, kind))
        for kind in _SEVERAL
        if kind != "rating" and getattr(filters, kind)
    ]
    if filters.rating:
        parts.append("rating " + " or ".join("none" if stars == NOT_KNOWN else stars for stars in filters.rating))
    if filters.since or filters.until:
        parts.append(f"{_said(filters.since)} to {_said(filters.until)}")
    return " · ".join(parts) or "all frames"


def _said(end: dt.date | None) -> str:
    if end is None:
        return "…"
    return f"{end:%Y-%m-%d %H:%M}" if isinstance(end, dt.datetime) else f"{end}"
