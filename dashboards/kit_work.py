"""The callbacks of the kit's page: save, remove, take back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, html, no_update
from dash.development.base_component import Component

from auditor.model.workspace import open_workspace
from dashboards.audit_age import age_in_words
from dashboards.components import plate
from dashboards.kit_entry import entry_form, remove_button
from dashboards.kit_form import field_of
from dashboards.kit_writes import Kits, Outcome

__all__ = ["add_kit_work"]


def add_kit_work(app: Dash, folder: Path, kits: Kits) -> None:
    """
    Bind the form of an entry.

    Parameters
    ----------
    app : Dash
    folder : Path
        The workspace.
    kits : Kits
        What writes.
    """

    @app.callback(
        Output("kit-form", "children"),
        Output("kit-said", "children"),
        Output("audit-age", "children", allow_duplicate=True),
        Output({"kind": "kit-field", "name": ALL}, "error"),
        Input({"kind": "kit-save", "table": ALL, "entry": ALL, "stamp": ALL}, "n_clicks"),
        Input({"kind": "kit-remove", "table": ALL, "entry": ALL, "stamp": ALL, "sure": ALL}, "n_clicks"),
        Input({"kind": "kit-undo"}, "n_clicks"),
        State({"kind": "kit-field", "name": ALL}, "value"),
        State({"kind": "kit-field", "name": ALL}, "id"),
        prevent_initial_call=True,
    )
    def change(
        _save: list[int | None], _remove: list[int | None], _undo: int | None, values: list[Any], ids: list[Any]
    ) -> tuple[Any, Any, Any, list[Any]]:
        pressed = ctx.triggered_id if ctx.triggered and ctx.triggered[0]["value"] else None
        names = [str(one.get("name", "")) for one in ids]
        return _changed(kits, folder, pressed, (names, values))


def _changed(
    kits: Kits, folder: Path, pressed: object, sent: tuple[Sequence[str], Sequence[object]]
) -> tuple[Any, Any, Any, list[Any]]:
    """Return the form laid anew, what is said, the audit's age, and a sentence or none for each field."""
    names, values = sent
    texts = {name: value for name, value in zip(names, values, strict=True) if isinstance(value, str)}
    same = [no_update] * len(names)
    if not isinstance(pressed, Mapping):
        return no_update, no_update, no_update, same
    if pressed["kind"] == "kit-undo":
        said = kits.undo()
        return _instead(said) if said.startswith("Taken back") else no_update, said, age_in_words(folder), same
    table, entry, stamp = (str(pressed[key]) for key in ("table", "entry", "stamp"))
    if pressed["kind"] == "kit-save":
        outcome = kits.save(table, entry, stamp, texts)
    else:
        outcome = kits.remove(table, entry, stamp, pressed["sure"] == "yes")
    if outcome.done:
        form = entry_form(open_workspace(folder), table, outcome.entry) if outcome.entry else _instead(outcome.said)
        return form, _said(outcome), age_in_words(folder), same
    again = remove_button(table, entry, stamp, is_sure=True) if outcome.asks else None
    return no_update, _said(outcome, again), no_update, _errors(names, outcome)


def _instead(said: str) -> Component:
    return plate("Done", html.P(said), html.P(html.A("See the whole kit", href="/kit")))


def _said(outcome: Outcome, more: Component | None = None) -> Component:
    wrong = [html.Li(sentence) for sentence in outcome.by_key.values()]
    return html.Div(
        [
            html.P(outcome.said, className="" if outcome.done or outcome.asks else "failed"),
            html.Ul(wrong) if wrong else None,
            html.Div(more, className="buttons"),
        ]
    )


def _errors(names: Sequence[str], outcome: Outcome) -> list[Any]:
    """Put each sentence beside the first part of its field, and take older ones away."""
    left = dict(outcome.by_key)
    return [left.pop(field_of(name), None) for name in names]
