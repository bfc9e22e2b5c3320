"""The lenses: all of them at a glance, and a page for each with its history, settings and keep rates."""

from __future__ import annotations

import pandas as pd
from dash import dcc, html
from dash.development.base_component import Component

from auditor.model.kit import Lens
from dashboards.components import Page, as_table, chart, download, guarded_layout, heading, plate, scrolling
from dashboards.desk import Desk
from dashboards.figures.breathing import breathing_chart
from dashboards.figures.keep_rates import keep_rate_chart, keep_rate_steps
from dashboards.figures.settings import verdict_chart
from dashboards.filters import NOT_KNOWN, Filters, narrowed, search_of
from dashboards.pages.keep_rates import rate_table, sharp_note
from dashboards.rates import keep_rates, keep_rates_by_slowness, lenses_at_a_glance
from dashboards.sharp_rates import kept_and_sharp_by_lens
from dashboards.verdicts import opening, settings_by_adapter, verdicts_over_time
from dashboards.words import CAUSES, VERDICTS, count_of, days, millimetres, percent, said, spread

__all__ = ["PAGE"]

_TITLE = "Lenses"
_COLUMNS = ("Lens", "Frames", "Set wrong", "Kept of judged", "95 % interval", "Last used")


def _layout(desk: Desk, filters: Filters) -> Component:
    one = filters.lens[0] if len(filters.lens) == 1 else None
    return _all(desk, filters) if one is None else _one(desk, filters, one)


def _all(desk: Desk, filters: Filters) -> Component:
    lenses = lenses_at_a_glance(desk, filters)
    head = html.Tr([html.Th(name, scope="col") for name in _COLUMNS])
    rows = [
        html.Tr(
            [
                html.Th(_open(desk, filters, str(lens["key"])), scope="row"),
                html.Td(f"{lens['frames']}", className="number"),
                html.Td(f"{lens['wrong']}", className="number telling" if lens["wrong"] else "number"),
                html.Td(f"{percent(lens['keep_rate'])} of {lens['judged']}", className="number"),
                html.Td(spread(lens["low"], lens["high"]), className="number"),
                html.Td(days(lens["last"], lens["last"]) if pd.notna(lens["last"]) else "No time"),
            ]
        )
        for _, lens in lenses.iterrows()
    ]
    table = scrolling(html.Table([html.Thead(head), html.Tbody(rows)]), "Lenses")
    sheet = html.Section([table, html.Div(download("lenses", filters), className="under")], className="plate")
    return html.Div([heading(_TITLE, "Choose one to see its history."), sheet])


def _open(desk: Desk, filters: Filters, key: str) -> Component:
    return dcc.Link(desk.name("lens", key), href=f"/lenses{search_of(narrowed(filters, lens=(key,)))}")


def _one(desk: Desk, filters: Filters, key: str) -> Component:
    kit = desk.workspace.kit if desk.workspace else None
    lens = next((entry for entry in kit.lenses if entry.id == key), None) if kit else None
    back = dcc.Link("All lenses", href=f"/lenses{search_of(narrowed(filters, lens=()))}")
    look = dcc.Link("Its frames worth a look", href=f"/worth-a-look{search_of(filters)}")
    plates = [_history(desk, filters), _adapters(desk, filters), _slow(desk, filters)]
    plates += [_kept_and_sharp(desk, filters), _settings(desk, filters)]
    if lens is not None and lens.breathing:
        plates.append(_breathing(lens, filters))
    lead = [opening(desk, filters)]
    if lens is not None:
        lead.append(_description(lens))
    if key == NOT_KNOWN:
        lead.append("Nothing recorded tells which lens made these frames: a row in the shoot log would.")
    return html.Div(
        [
            heading(desk.name("lens", key), *lead),
            html.Nav([back, look], className="turning"),
            html.Div(plates, className="plates"),
        ]
    )


def _description(lens: Lens) -> str:
    short, long = lens.focal_mm
    parts = [f"{short:g} to {long:g} mm" if lens.is_zoom else f"{short:g} mm", f"{lens.mount} mount"]
    if lens.measured_focal_mm:
        parts.append(f"measured {millimetres(lens.measured_focal_mm)}")
    if lens.close_focus_m:
        parts.append(f"focuses from {lens.close_focus_m:g} m")
    if lens.acquired:
        parts.append(f"yours since {lens.acquired.day} {lens.acquired:%B %Y}")
    return ", ".join(parts) + "."


def _history(desk: Desk, filters: Filters) -> Component:
    verdicts = verdicts_over_time(desk, filters)
    table = pd.DataFrame(
        {
            "Period": verdicts["period"],
            "Setting": [said(VERDICTS, verdict) for verdict in verdicts["setting_verdict"]],
            "Frames": verdicts["frames"],
        }
    )
    return plate("Its history", chart("setting-verdicts", verdict_chart(verdicts), table, filters), wide=True)


def _adapters(desk: Desk, filters: Filters) -> Component:
    rates = keep_rates(desk, filters, "adapter")
    tall = 100 + 34 * max(int((rates["judged"] > 0).sum()), 3)
    return plate(
        "Kept, by adapter",
        chart("keep-rates-by-adapter", keep_rate_chart(rates), rate_table(rates, "Adapter"), filters, tall_px=tall),
        note="Plain counts at 95 %. A rate is not proof: it knows nothing of light or distance.",
    )


def _slow(desk: Desk, filters: Filters) -> Component:
    rates = keep_rates_by_slowness(desk, filters)
    figure = keep_rate_steps(rates, "stops slower than 1 ÷ right setting")
    left = rates.attrs["left_out"]
    return plate(
        "Kept, by how slow the exposure was",
        chart("keep-rates-by-slowness", figure, rate_table(rates, "Stops slower"), filters),
        note=f"{count_of(left, 'frame')} without an exposure time or a right setting left out." if left else "",
    )


def _kept_and_sharp(desk: Desk, filters: Filters) -> Component:
    fields, title = kept_and_sharp_by_lens(desk, filters), "Kept and sharp"
    note = sharp_note(keep_rates(desk, filters))
    if fields.empty:
        return plate(title, html.P("No frame of it was both judged and measured with an answer."), note=note)
    counts = fields.iloc[0]

    def share(field: str) -> str:
        return f"{counts[field]} ({percent(counts[field] / counts['both'])})"

    table = pd.DataFrame(
        {
            "Frames": ["Kept", "Not kept"],
            "Sharp": [share("kept_sharp"), share("left_sharp")],
            "Not sharp": [share("kept_soft"), share("left_soft")],
        }
    )
    return plate(
        title,
        as_table(table),
        html.Div(download("kept-and-sharp", filters), className="under"),
        note=f"{note} Both judged and told are {count_of(int(counts['both']), 'frame')}.",
    )


def _settings(desk: Desk, filters: Filters) -> Component:
    pairs = settings_by_adapter(desk, filters)
    table = pd.DataFrame(
        {
            "Adapter": pairs["name"],
            "Right": [millimetres(right) for right in pairs["right_setting_mm"]],
            "Set to": [millimetres(typed) for typed in pairs["setting_mm"]],
            "Setting": [said(VERDICTS, verdict) for verdict in pairs["setting_verdict"]],
            "Cause": [said(CAUSES, cause) for cause in pairs["setting_cause"]],
            "Frames": pairs["frames"],
        }
    )
    return plate(
        "What was typed for it",
        as_table(table) if len(table) else html.P("No frame here has both a typed and a right setting."),
        html.Div(download("settings-by-adapter", filters), className="under"),
        note="The right value is for the noted focus distance, or for infinity where none was noted.",
        wide=True,
    )


def _breathing(lens: Lens, filters: Filters) -> Component:
    table = pd.DataFrame(lens.breathing, columns=["Focus distance, m", "Right setting, mm"])
    figure = breathing_chart(lens.breathing, lens.true_focal_mm[0])
    return plate(
        "Its setting close up, as measured",
        chart("breathing", figure, table, filters, tall_px=300),
        note="Without an adapter; with one, times its factor.",
    )


PAGE = Page(path="/lenses", name=_TITLE, layout=guarded_layout(_TITLE, _layout), held=True)
