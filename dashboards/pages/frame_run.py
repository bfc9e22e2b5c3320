"""What a press on a frame's page says of the whole run that it is in."""

from __future__ import annotations

import dash_mantine_components as dmc
import numpy as np
from dash import html
from dash.development.base_component import Component

from auditor.model.answers import NOT_IN_KIT
from auditor.model.log import SUPPORTS
from dashboards.components import plate
from dashboards.desk import Desk
from dashboards.filters import NO_ADAPTER
from dashboards.run_writes import frames_of_run
from dashboards.runs import run_around
from dashboards.thumbnails import key_of
from dashboards.words import count_of, moment

__all__ = ["run_plates"]


def run_plates(desk: Desk, place: int) -> list[Component]:
    """Ask for the whole run that the frame is in: what was on, what the camera rested on, whether it is fine."""
    if desk.workspace is None:
        return []
    run = run_around(desk, place)
    is_aside = bool(np.isin(place, desk.aside))
    if run is None:
        if not isinstance(desk.frames["flags"].iloc[place], str):
            return []
        alone = {"body": "", "first": key_of(desk, place), "last": ""}
        return [plate("Looked at", _buttons([_fine("this frame", alone, is_aside=is_aside)]), _said())]
    first, last = run["first"].to_pydatetime(), run["last"].to_pydatetime()
    span = {"body": str(run["body"]), "first": first.isoformat(), "last": last.isoformat()}
    frames = count_of(int(run["frames"]), "frame")
    places = frames_of_run(desk, str(run["body"]), first, last)
    flagged = int(np.isin(places, desk.aside if is_aside else desk.flagged).sum())
    parts: list[Component] = [
        html.H3("What was on the camera?"),
        html.Div(
            [_kit_choice(desk, "lens", run["lens"]), _kit_choice(desk, "adapter", run["adapter"])],
            className="filters form",
        ),
        _buttons([_button(f"It was this, for {frames}", "confirm", span, plain=False)]),
        html.H3("What did it rest on?"),
        _buttons([_button(word.capitalize(), f"support-{word}", span) for word in SUPPORTS]),
    ]
    if flagged:
        words = f"the {count_of(flagged, 'flagged frame')} of this run"
        parts += [html.H3("Looked at?"), _buttons([_fine(words, span, is_aside=is_aside)])]
    note = (
        f"For the whole run from {moment(run['first'])} to {moment(run['last'], run['first'])}. Lens and adapter "
        "outrank every other source from the next audit on; the support goes into the shoot log."
    )
    return [plate("You know better", *parts, _said(), note=note)]


def _said() -> Component:
    undo = _button("Take the last press back", "undo", {"body": "", "first": "", "last": ""})
    return html.Div([html.Div(id="run-said", role="status", className="standing"), _buttons([undo])])


def _fine(words: str, span: dict[str, str], *, is_aside: bool) -> Component:
    if is_aside:
        return _button(f"Flag {words} again", "again", span)
    return _button(f"Fine: put {words} aside", "fine", span)


def _buttons(buttons: list[Component]) -> Component:
    return html.Div(buttons, className="buttons")


def _button(words: str, what: str, span: dict[str, str], *, plain: bool = True) -> Component:
    made: Component = dmc.Button(
        words, id={"kind": "run-do", "what": what, **span}, variant="default" if plain else "filled"
    )
    return made


def _kit_choice(desk: Desk, kind: str, now: object) -> Component:
    data = [{"value": key, "label": name} for key, name in desk.names.get(kind, {}).items()]
    value = now if isinstance(now, str) else None
    if kind == "lens":
        data.append({"value": NOT_IN_KIT, "label": "None of the kit's lenses"})
    if kind == "adapter":
        data = [{"value": NO_ADAPTER, "label": "No adapter"}, *data]
        value = NO_ADAPTER if value == "" else value
    if value and value not in {choice["value"] for choice in data}:  # stacked adapters
        data.append({"value": value, "label": desk.name(kind, value)})
    made: Component = dmc.Select(
        id={"kind": "confirm", "part": kind},
        label=kind.capitalize(),
        data=data,
        value=value,
        searchable=True,
        clearable=True,
        placeholder="Not known",
        comboboxProps={"withinPortal": False},
    )
    return made
