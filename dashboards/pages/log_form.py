"""The form of a row of the shoot log, made for a phone: few fields, big targets, what is probably on filled in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from auditor.model.log import SUBJECTS, SUPPORTS
from auditor.model.log_text import Noted
from dashboards.components import plate
from dashboards.desk import Desk
from dashboards.noted import latest, stacks

__all__ = ["form"]

_TYPED_FROM = 13
"""So many choices and more are searched by typing; fewer open without a phone's keyboard."""

_MORE = ("end", "focal_mm", "focus_distance_m", "aperture", "subject", "note")


def form(desk: Desk, mending: Noted | None = None) -> Component:
    """
    Return the form, for a new row or for one that is there.

    Parameters
    ----------
    desk : Desk
    mending : Noted, optional
        The row to be mended: the form says what it says. Without one, it is filled with what is probably still on.
    """
    said = dict(mending.cells) if mending else latest(desk)
    start = "" if mending else " Empty: the moment you press."
    first = [
        _text(said, "start", "From", "2026-05-02 14:20, or 14:20", f"The camera's time.{start}"),
        _choice(said, "body", "Body", _named(desk, "body", said)),
        _choice(said, "lens", "Lens", _named(desk, "lens", said)),
        _choice(said, "adapter", "Adapter", _named(desk, "adapter", said)),
        _text(said, "setting_mm", "Setting typed, mm", "50"),
        _chips(said, "support", "Support", SUPPORTS),
        _chips(said, "stabiliser", "Stabiliser", ("on", "off")),
    ]
    more = [
        _text(said, "end", "Until, if known", "15:00"),
        _text(said, "focal_mm", "Zoom position, mm", "70"),
        _text(said, "focus_distance_m", "Focus distance, m", "1.5"),
        _text(said, "aperture", "F-number", "2.8"),
        _chips(said, "subject", "Subject", (*SUBJECTS, *_speed(said))),
        _text(said, "note", "Note", "wind on the pier"),
    ]
    opened = any(said.get(name) for name in _MORE)
    return plate(
        f"Mend line {mending.line} of log.csv" if mending else "Add a row",
        html.Div(first, className="filters form"),
        html.Details(
            [html.Summary("More: until, zoom, distance, aperture, subject, note"),
             html.Div(more, className="filters form")],
            open=opened,
        ),
        html.Div(_buttons(mending), className="buttons"),
        note="" if mending else "Times are the camera's local time, after clock corrections.",
    )  # fmt: skip


def _buttons(mending: Noted | None) -> list[Component]:
    if mending is None:
        return [_button("Add to the log", "add"), _button("Take the last change back", "undo", quiet=True)]
    return [
        _button("Save the row", "save", mending.key),
        _button("Leave it as it was", "leave", quiet=True),
        _button("Remove the row", "remove", mending.key, quiet=True),
    ]


def _button(words: str, what: str, row: str = "", *, quiet: bool = False) -> Component:
    made: Component = dmc.Button(
        words, id={"kind": "log-do", "what": what, "row": row}, variant="default" if quiet else "filled", size="md"
    )
    return made


def _speed(said: Mapping[str, str]) -> tuple[str, ...]:
    subject = said.get("subject", "")
    return (subject,) if subject and subject.lower() not in SUBJECTS else ()


def _text(said: Mapping[str, str], name: str, label: str, example: str, told: str = "") -> Component:
    made: Component = dmc.TextInput(
        id={"kind": "log-field", "name": name},
        label=label,
        value=said.get(name, ""),
        placeholder=f"such as {example}",
        description=told or None,
        size="md",
        inputWrapperOrder=["label", "input", "description"],
        inputProps={"inputMode": "decimal"} if name.endswith(("_mm", "_m")) or name == "aperture" else {},
    )
    return made


def _choice(said: Mapping[str, str], name: str, label: str, choices: list[dict[str, str]]) -> Component:
    made: Component = dmc.Select(
        id={"kind": "log-field", "name": name},
        label=label,
        data=choices,
        value=said.get(name) or None,
        clearable=True,
        allowDeselect=False,
        searchable=len(choices) >= _TYPED_FROM,
        placeholder="Not noted",
        size="md",
        comboboxProps={"withinPortal": False},
    )
    return made


def _chips(said: Mapping[str, str], name: str, label: str, words: Sequence[str]) -> Component:
    """Return a row of words of which none or one is chosen, by a touch each."""
    chosen = said.get(name, "")
    chips = [dmc.Chip(word.capitalize() if word.isalpha() else f"{word} m/s", value=word, size="md") for word in words]
    group = dmc.ChipGroup(
        chips,
        id={"kind": "log-field", "name": name},
        value=next((word for word in words if word == chosen.lower()), None),
        multiple=False,
        deselectable=True,
    )
    return html.Fieldset([html.Legend(label), html.Div(group, className="chips")], className="chosen")


def _named(desk: Desk, kind: str, said: Mapping[str, str]) -> list[dict[str, str]]:
    choices = dict(desk.names.get(kind, {}))
    if kind == "adapter":
        choices |= {chain: desk.name(kind, chain) for chain in stacks(desk)}
    if said.get(kind):
        choices.setdefault(said[kind], said[kind])  # an id that the kit does not have: seen, so that it is mended
    return [{"value": key, "label": name} for key, name in choices.items()]
