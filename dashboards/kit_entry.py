"""The form of one entry of the kit."""

from __future__ import annotations

from collections.abc import Mapping

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from auditor.errors import SteadykeepError
from auditor.model.workspace import Workspace
from auditor.pipeline.kit_editing import stamped_entry, uses_of
from dashboards.components import plate, to_do
from dashboards.kit_fields import FIELDS, NOUNS, Field
from dashboards.kit_form import texts_of
from dashboards.kit_writes import use_in_words

__all__ = ["entry_form", "remove_button"]

_YES = (("no", "No"), ("yes", "Yes"))


def entry_form(workspace: Workspace, table: str, entry: str) -> Component:
    """
    Return the form of an entry as it stands in kit.toml now, or an empty one.

    Parameters
    ----------
    workspace : Workspace
    table : str
        bodies, lenses or adapters.
    entry : str
        Id; empty to add one.
    """
    try:
        found = stamped_entry(workspace.folder, table, entry) if entry else ({}, "")
    except SteadykeepError as error:
        return to_do(str(error))
    if found is None:
        return to_do(f'There is no {NOUNS[table]} "{entry}" in kit.toml.')
    values, stamp = found
    texts = texts_of(table, values)
    use = uses_of(workspace, table, entry) if entry else None
    fields = [_laid(field, texts, is_fixed=bool(use and use.is_named) and field.key == "id") for field in FIELDS[table]]
    where = {"table": table, "entry": entry, "stamp": stamp}
    save = dmc.Button("Write it to kit.toml" if entry else "Add it to kit.toml", id={"kind": "kit-save", **where})
    remove = [] if use is None else [remove_button(table, entry, stamp, is_sure=False)]
    told = [] if use is None else [html.P(use_in_words(table, use), className="note")]
    if use and use.is_named:
        told.insert(0, html.P("The id cannot be changed here, since it is what names it there.", className="note"))
    return plate(
        "As it stands in kit.toml" if entry else "What is it?",
        html.Div(fields, className="filters form entry"),
        html.Div([save, *remove], className="buttons"),
        html.Div(told, className="told"),
        note="Fields with * are needed; leave empty what you do not know. Your comments in kit.toml stay.",
    )


def remove_button(table: str, entry: str, stamp: str, *, is_sure: bool) -> Component:
    """Return the button that removes an entry; the first press of one that something names only says so."""
    where = {"table": table, "entry": entry, "stamp": stamp, "sure": "yes" if is_sure else "no"}
    made: Component = dmc.Button(
        "Remove it all the same" if is_sure else "Remove it", id={"kind": "kit-remove", **where}, variant="default"
    )
    return made


def _id(name: str) -> dict[str, str]:
    return {"kind": "kit-field", "name": name}


def _laid(field: Field, texts: Mapping[str, str], *, is_fixed: bool) -> Component:
    if field.shape == "rows":
        return _rows(field, texts)
    if field.shape == "pair":
        return _group(field, [_input(field, f"{field.key}.{part}", field.parts[part], texts) for part in (0, 1)])
    if field.shape in {"choice", "yes"}:
        choices = field.choices or _YES
        made: Component = dmc.Select(
            id=_id(field.key), label=field.label, description=field.why, value=texts[field.key],
            data=[{"value": value, "label": words} for value, words in choices], allowDeselect=False,
            comboboxProps={"withinPortal": False},
        )  # fmt: skip
        return made
    if field.shape == "lines":
        lines: Component = dmc.Textarea(
            id=_id(field.key),
            label=field.label,
            description=field.why,
            value=texts[field.key],
            minRows=2,
            autosize=True,
        )
        return lines
    return _input(field, field.key, field.label, texts, why=field.why, is_fixed=is_fixed)


def _input(
    field: Field, name: str, label: str, texts: Mapping[str, str], *, why: str = "", is_fixed: bool = False
) -> Component:
    made: Component = dmc.TextInput(
        id=_id(name), label=label, description=why or None, value=texts.get(name, ""), readOnly=is_fixed,
        withAsterisk=field.needed and not name.endswith(".1"),
    )  # fmt: skip
    return made


def _group(field: Field, inputs: list[Component], *, wide: bool = False) -> Component:
    parts = [html.Legend(field.label), html.P(field.why, className="note"), html.Div(inputs, className="pairs")]
    return html.Fieldset(parts, className="wide" if wide else "")


def _rows(field: Field, texts: Mapping[str, str]) -> Component:
    count = sum(name.startswith(f"{field.key}.") for name in texts) // 2
    inputs = [
        _input(field, f"{field.key}.{number}.{part}", f"{number + 1}. {field.parts[part]}", texts)
        for number in range(count)
        for part in (0, 1)
    ]
    return _group(field, inputs, wide=True)
