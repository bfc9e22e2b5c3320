"""Change one entry of a kit.toml; what the kit's own validator refuses is never put in."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from auditor.errors import KitError
from auditor.model.documents import parse_toml, problems_by_key
from auditor.model.kit import Adapter, Body, Lens, parse_kit
from auditor.model.toml_edit import with_entry, with_entry_values, without_entry

__all__ = ["KINDS", "RefusedEntry", "entry_in", "with_kit_entry", "without_kit_entry"]

KINDS: Mapping[str, type[Body] | type[Lens] | type[Adapter]] = MappingProxyType(
    {"bodies": Body, "lenses": Lens, "adapters": Adapter}
)
"""What an entry of each table of kit.toml is."""


class RefusedEntry(KitError):
    """
    One entry was refused; nothing was changed.

    Parameters
    ----------
    by_key : mapping of str to str
        A sentence for each key that is wrong.
    """

    def __init__(self, by_key: Mapping[str, str]) -> None:
        self.by_key = dict(by_key)
        count = f"{len(by_key)} problem{'s' if len(by_key) > 1 else ''}"
        super().__init__(f"kit.toml: {count}, nothing was written", by_key.values())


def entry_in(text: str, table: str, entry_id: str) -> dict[str, Any] | None:
    """
    Return an entry's keys and values as they stand in the text, None where there is none of that id.

    Raises
    ------
    KitError
        The text is no TOML.
    """
    entries = parse_toml(text, "kit.toml", KitError).get(table, [])
    listed = entries if isinstance(entries, list) else []
    return next((each for each in listed if isinstance(each, dict) and each.get("id") == entry_id), None)


def with_kit_entry(text: str, table: str, entry_id: str, values: Mapping[str, object]) -> str:
    r"""
    Set values of an entry, or add one.

    Parameters
    ----------
    text : str
        Of a kit.toml.
    table : str
        One of ``KINDS``.
    entry_id : str
        Of the entry to change; empty to add one.
    values : mapping
        What is to be set, None to take a key out; other keys stay as they are.

    Returns
    -------
    str
        The new text; comments, order and every other entry as they were.

    Raises
    ------
    RefusedEntry
        With a sentence for each key of this entry that is wrong.
    KitError
        The rest of the kit is wrong, or the entry is gone.

    Examples
    --------
    >>> text = '[[lenses]]\nid = "orla-50"\nname = "Orla"  # mine\nfocal_mm = 50\nmount = "M42"\n'
    >>> print(with_kit_entry(text, "lenses", "orla-50", {"focal_mm": 51}))
    [[lenses]]
    id = "orla-50"
    name = "Orla"  # mine
    focal_mm = 51
    mount = "M42"
    <BLANKLINE>
    >>> with_kit_entry(text, "lenses", "orla-50", {"focal_mm": [70, 35]})
    Traceback (most recent call last):
        ...
    auditor.model.kit_edit.RefusedEntry: kit.toml: 1 problem, nothing was written
      focal_mm = [70, 35] has its ends reversed, the short end comes first; such as focal_mm = 50, or for a zoom focal_mm = [35, 70]
    """  # noqa: E501  (the message is one line)
    found = entry_in(text, table, entry_id) if entry_id else None
    if entry_id and found is None:
        raise KitError(f'"{entry_id}" is not in kit.toml any more, nothing was written')
    whole = {key: value for key, value in {**(found or {}), **values}.items() if value is not None}
    problems = problems_by_key(KINDS[table], whole)
    wanted_id = whole.get("id")
    if "id" not in problems and wanted_id != entry_id and entry_in(text, table, str(wanted_id)) is not None:
        problems["id"] = f'id = "{wanted_id}" is that of another entry; give it its own, such as "{wanted_id}-2"'
    if problems:
        raise RefusedEntry(problems)
    try:
        new = with_entry_values(text, table, entry_id, values) if entry_id else with_entry(text, table, whole)
    except ValueError as reason:
        raise KitError(f"kit.toml: nothing was written: {reason}") from None
    parse_kit(new)
    return new


def without_kit_entry(text: str, table: str, entry_id: str) -> str:
    """
    Take an entry out; comments around it stay.

    Raises
    ------
    KitError
        The entry is gone, or the rest of the kit is wrong.
    """
    if entry_in(text, table, entry_id) is None:
        raise KitError(f'"{entry_id}" is not in kit.toml any more, nothing was written')
    try:
        new = without_entry(text, table, entry_id)
    except ValueError as reason:
        raise KitError(f"kit.toml: nothing was written: {reason}") from None
    parse_kit(new)
    return new
