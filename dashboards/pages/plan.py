"""The plan: which lenses to keep, use differently or sell, and what would be out of reach without some of them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd
from dash import dcc, html
from dash.development.base_component import Component

from auditor.errors import SteadykeepError
from dashboards.components import (
    NOTHING_YET,
    WHAT_TO_RUN,
    Page,
    chart,
    download,
    heading,
    look_again,
    plate,
    scrolling,
    to_do,
)
from dashboards.desk import Desk
from dashboards.figures.weighed import reach_chart
from dashboards.filters import NOT_KNOWN, Filters, search_of
from dashboards.weighed import CAUTION, PATIENCE_S, Sheet, Waiting, Weighing, plan_sheets, plan_table, thought, weighing
from dashboards.words import count_of, percent

__all__ = ["PAGE"]

_TITLE = "Plan"
_LEAD = "Which lenses to keep, which to use differently, and what would be out of reach without some of them."
_WHOLE = (
    "The whole archive is weighed; of what is chosen above, only the lenses narrow what is shown here. A lens is never "
    "proposed for sale because its setting was forgotten. The weights are yours: [plan] in settings.toml."
)
_COLUMNS = ("Lens", "What if", "Said", "Keepers a year", "Against the others", "In reach of others", "Setting’s fault")


def _layout(desk: Desk, filters: Filters, rest: Mapping[str, str]) -> Component:
    if not len(desk):
        return html.Div([heading(_TITLE), to_do(NOTHING_YET, WHAT_TO_RUN)])
    without = tuple(key for key in rest.get("without", "").split("+") if key)
    try:
        return _shown(desk, filters, weighing(desk, PATIENCE_S), without)
    except Waiting as awaited:
        return html.Div([heading(_TITLE, _LEAD), look_again(_address(filters, without), str(awaited))])
    except SteadykeepError as error:
        return html.Div([heading(_TITLE), to_do(f"Nothing can be weighed: {error}")])


def _address(filters: Filters, without: tuple[str, ...]) -> str:
    return f"/plan{search_of(filters, {'without': '+'.join(without)} if without else None)}"


def _shown(desk: Desk, filters: Filters, found: Weighing, without: tuple[str, ...]) -> Component:
    table = plan_table(desk, found)
    if table.empty:
        return html.Div([heading(_TITLE), to_do("kit.toml names no lens that is still owned, so there is no plan.")])
    without = tuple(key for key in table["key"] if key in without)
    chosen = [key for key in filters.lens if key != NOT_KNOWN]
    rows = table[table["key"].isin(chosen)] if chosen else table
    sheets = [sheet for sheet in plan_sheets(desk, found) if not chosen or sheet.key in chosen]
    return html.Div(
        [
            heading(_TITLE, _LEAD),
            html.P(_WHOLE, className="note"),
            html.Section(
                [
                    scrolling(_at_a_glance(rows, filters, without), "The plan at a glance"),
                    html.Div(download("plan", filters), className="under"),
                    html.P(
                        f"Against the others: under the same conditions, with 95 % interval. {_left_out(desk, found)}"
                    ),
                    html.P(CAUTION, className="note"),
                ],
                className="plate",
            ),
            _what_if(desk, filters, found, without),
            html.Div([_sheet(sheet) for sheet in sheets], className="plates"),
        ]
    )


def _at_a_glance(rows: pd.DataFrame, filters: Filters, without: tuple[str, ...]) -> Component:
    head = html.Tr([html.Th(name, scope="col") for name in _COLUMNS])
    return html.Table([html.Thead(head), html.Tbody([_row(row, filters, without) for _, row in rows.iterrows()])])


def _row(row: pd.Series[Any], filters: Filters, without: tuple[str, ...]) -> Component:
    key, number = str(row["key"]), {name: float(str(row[name])) for name in _NUMBERS}
    gone = key in without
    then = tuple(one for one in without if one != key) if gone else (*without, key)
    points = number["fair_points"]
    fair = (
        f"{round(points):+d} ({number['fair_low']:+.0f} to {number['fair_high']:+.0f}) points"
        if points == points
        else ""
    )
    return html.Tr(
        [
            html.Th(str(row["name"]), scope="row"),
            html.Td(dcc.Link("Take it back" if gone else "Do without it", href=_address(filters, then))),
            html.Td(str(row["verdict"]).capitalize()),
            html.Td(_known(number["keepers_a_year"], f"{number['keepers_a_year']:.0f}"), className="number"),
            html.Td(_known(points, fair), className="number"),
            html.Td(percent(number["in_reach_of_others"]), className="number"),
            html.Td(percent(number["settings_fault"]), className="number"),
        ]
    )


_NUMBERS = ("keepers_a_year", "fair_points", "fair_low", "fair_high", "in_reach_of_others", "settings_fault")


def _known(number: float, words: str) -> str:
    return "Not known" if math.isnan(number) else words


def _left_out(desk: Desk, found: Weighing) -> str:
    sold = " and ".join(desk.name("lens", key) for key in found.planned.sold)
    parts = [f"Sold already, and only compared with: {sold}."] if sold else []
    if found.planned.unknown:
        parts.append(f"{count_of(found.planned.unknown, 'frame')} without a known lens left out.")
    return " ".join(parts)


def _what_if(desk: Desk, filters: Filters, found: Weighing, without: tuple[str, ...]) -> Component:
    title = "What if"
    if not without:
        return plate(title, html.P("Press “Do without it” beside one or more lenses to see which keepers go with it."))
    try:
        bands = thought(desk, found, without, PATIENCE_S)
    except Waiting as awaited:
        return plate(title, look_again(_address(filters, without), str(awaited)))
    names = " and ".join(desk.name("lens", key) for key in without)
    lost, keepers = int(bands["lost"].sum()), int(bands["keepers"].sum())
    told = f"Without {names}: {lost} of {count_of(keepers, 'keeper')} would be out of reach of what is left."
    shown = bands.set_axis(["Focal length", "Keepers", "In reach now", "In reach then", "Lost"], axis="columns")
    return plate(
        title,
        html.P(told, className="lead", role="status"),
        chart("what-if", reach_chart(bands), shown, filters, extra={"without": "+".join(without)}),
        html.P(dcc.Link("Take all back", href=_address(filters, ()))),
        note="In reach: another lens of the kit, on the same body, comes near the focal length, opens wide enough and "
        "focuses close enough. What is in reach need not come out as well.",
    )


def _sheet(sheet: Sheet) -> Component:
    return plate(
        sheet.name,
        html.P(html.Strong(sheet.verdict.capitalize())),
        html.Ul([html.Li(f"{line[0].upper()}{line[1:]}.") for line in sheet.reasons]),
        html.Details(
            [html.Summary("Where the numbers come from"), html.Ul([html.Li(line) for line in sheet.explained])],
            className="numbers",
        ),
    )


PAGE = Page(path="/plan", name=_TITLE, layout=_layout)
