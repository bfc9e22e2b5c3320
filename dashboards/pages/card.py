"""The card: what to type and how slow to go, to read on a phone at the shoot, and ready to print."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TypeAlias
from urllib.parse import urlencode

import pandas as pd
from dash import dcc, html
from dash.development.base_component import Component

from auditor.errors import SteadykeepError
from auditor.model.cards import CAUTION, Card, Figure, distance_words, shutter_words
from auditor.model.workspace import Workspace
from auditor.pipeline.carding import make_cards
from dashboards.components import Page, as_table, heading, plate, to_do
from dashboards.desk import Desk
from dashboards.filters import NOT_KNOWN, Filters

__all__ = ["PAGE"]

Piece: TypeAlias = str | Component | list[Component | str]

_TITLE = "Card"
_LEAD = "For each pairing of your kit: what to type at each distance, how exact, how slow by hand."
_NOTE = (
    "Small figures: nine in ten lie between. ½ stop: the error that costs so much. Shutter times: a far and still "
    "subject, judged near the centre. Frames: how many for one sharp, 19 times in 20, taken apart or in one burst."
)
_PAPERS = (("card-a4.html", "A4, to print"), ("card-a5.html", "A5, for the bag"), ("card.csv", "As CSV"))


def _layout(desk: Desk, filters: Filters, _rest: Mapping[str, str]) -> Component:
    workspace = desk.workspace
    if workspace is None:
        return html.Div([heading(_TITLE), to_do("These pages were opened over tables alone, without a workspace.")])
    if not workspace.kit.lenses:
        return html.Div([heading(_TITLE), to_do("kit.toml names no lens yet, so there is nothing to make a card of.")])
    try:
        cards = _chosen(workspace, filters)
    except SteadykeepError as error:
        return html.Div([heading(_TITLE), to_do(f"No card can be made: {error}")])
    if not cards:
        return html.Div([heading(_TITLE), to_do("None of the chosen lenses fits a chosen body.")])
    return html.Div(
        [
            heading(_TITLE, _LEAD),
            html.P(CAUTION, className="note"),
            _papers(desk, filters, cards),
            _sheets([card for card in cards if not card.contacts]),
            _told(cards),
            html.P(_NOTE, className="note"),
        ]
    )


def _sheets(cards: Sequence[Card]) -> Component:
    if cards:
        return html.Div([_sheet(card) for card in cards], className="plates")
    add = dcc.Link("Add it to the kit, with its adapter", href="/kit?entry=lenses/")
    return plate("Nothing to type", html.P(["Is a lens without contacts missing here? ", add, "."]))


def _chosen(workspace: Workspace, filters: Filters) -> list[Card]:
    cards = make_cards(workspace, [key for key in filters.lens if key != NOT_KNOWN])
    bodies = {key for key in filters.body if key != NOT_KNOWN}
    return [card for card in cards if not bodies or card.pairing.rpartition("@")[2] in bodies]


def _papers(desk: Desk, filters: Filters, cards: Sequence[Card]) -> Component:
    lenses = [desk.name("lens", key) for key in filters.lens if key != NOT_KNOWN]
    bodies = [desk.name("body", key) for key in filters.body if key != NOT_KNOWN]
    names = [card.pairing for card in cards] if lenses or bodies else []
    query = f"?{urlencode([('lens', name) for name in names])}" if names else ""
    shown = " and ".join(lenses) or "all lenses of the kit"
    on = f" on {' and '.join(bodies)}" if bodies else ""
    links = [
        html.A(words, href=f"/paper/{name}{query}", target="_blank" if name.endswith("html") else "")
        for name, words in _PAPERS
    ]
    return html.Section(
        [
            html.H2("Take it along"),
            html.P(f"For {shown}{on}. Choose lenses and bodies under Showing, above, for a shorter one."),
            html.Div(links, className="turning"),
        ],
        className="plate",
    )


def _sheet(card: Card) -> Component:
    short, long = card.focal_mm
    focal = f"{short:.3g} mm" if short == long else f"{short:.3g} to {long:.3g} mm"
    under = ", ".join((card.adapter or "no adapter", card.body, focal))
    return plate(
        card.lens,
        _typed(card),
        _times(card) if card.shutters else None,
        html.Ul([html.Li(line) for line in card.notes], className="note") if card.notes else None,
        _depth(card),
        _steps(card),
        note=f"{under[0].upper()}{under[1:]}",
    )


def _typed(card: Card) -> Component:
    rows = [
        (
            distance_words(line.distance_m),
            html.Strong(f"{line.type_mm:g}"),
            "–" if math.isnan(line.exact_mm) else f"± {line.exact_mm:.1f}",
            _ranged(f"{line.right.value:.1f}", f"{line.right.low:.0f} to {line.right.high:.0f}"),
        )
        for line in card.settings
    ]
    return _lines(("Focused at", "Type, mm", "½ stop, mm", "Right, mm"), rows)


def _times(card: Card) -> Component:
    rows = [
        (
            f"{line.share:.0%} sharp",
            _time(line.off),
            _time(line.on),
            _ranged(f"{line.frames:.0f}", f"burst {line.frames_in_burst:.0f}"),
        )
        for line in card.shutters
    ]
    return _lines(("Slowest by hand", "Stabiliser off", "Stabiliser on", "Frames"), rows)


def _time(time: Figure) -> Piece:
    if math.isnan(time.value):
        return "–"
    low, high = shutter_words(time.low), shutter_words(time.high)
    return _ranged(shutter_words(time.value), f"{low} to {high}")


def _ranged(value: str, under: str) -> list[Component | str]:
    return [value, html.Span(under, className="range")]


def _lines(headings: Sequence[str], rows: Sequence[Sequence[Piece]]) -> Component:
    head = html.Tr([html.Th(name, scope="col") for name in headings])
    body = [html.Tr([html.Th(first, scope="row"), *(html.Td(cell) for cell in rest)]) for first, *rest in rows]
    return html.Table([html.Thead(head), html.Tbody(body)], className="lines")


def _depth(card: Card) -> Component | None:
    if not card.apertures or math.isnan(card.tolerance_um):
        return None
    rows = [
        (
            f"f/{line.f_number:g}",
            f"{line.near_m:.2f} to {_far(line.far_m)}",
            f"{distance_words(line.hyperfocal_m)}{', diffracted' if line.is_diffracted else ''}",
        )
        for line in card.apertures
    ]
    table = as_table(pd.DataFrame(rows, columns=["On the ring", "Sharp from, to", "Hyperfocal"]))
    summary = f"Depth of field, focused at {distance_words(card.focus_m)}"
    return html.Details([html.Summary(summary), table], className="numbers")


def _far(metres: float) -> str:
    return f"{metres:.2f} m" if metres < 9.995 else distance_words(metres)


def _steps(card: Card) -> Component:
    lines = [
        html.Li([html.Strong(step.name), f": {step.value}. {step.formula}, with {step.inputs}. {step.source}."])
        for step in card.steps
    ]
    return html.Details([html.Summary("Where the numbers come from"), html.Ul(lines)], className="numbers")


def _told(cards: Sequence[Card]) -> Component | None:
    names = [f"{card.lens} on {card.body}" for card in cards if card.contacts]
    return html.P(f"Nothing to type, the lens tells the body: {'; '.join(names)}.") if names else None


PAGE = Page(path="/card", name=_TITLE, layout=_layout)
