"""Change single values of the user's TOML files; comments, order and everything else stay as they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import tomlkit

__all__ = ["with_entry_values", "with_table_values"]

Value = float | str | Sequence[Sequence[float]]


def with_entry_values(text: str, table: str, entry_id: str, values: Mapping[str, Value]) -> str:
    r"""
    Set values of one entry of a list of tables, found by its id.

    Raises
    ------
    KeyError
        There is no such entry.

    Examples
    --------
    >>> print(with_entry_values('[[bodies]]\nid = "one"  # mine\nname = "S"', "bodies", "one", {"stops": 4.0}))
    [[bodies]]
    id = "one"  # mine
    name = "S"
    stops = 4.0
    """
    document = tomlkit.parse(text)
    for entry in document.get(table, []):
        if entry.get("id") == entry_id:
            _set(entry, values)
            return tomlkit.dumps(document)
    raise KeyError(entry_id)


def with_table_values(text: str, table: str, values: Mapping[str, Value]) -> str:
    r"""
    Set values of a table, which is added where it is missing.

    Examples
    --------
    >>> print(with_table_values("[keep]\nrule = 'rating'\n", "hand", {"exponent": 0.8}))
    [keep]
    rule = 'rating'
    <BLANKLINE>
    [hand]
    exponent = 0.8
    <BLANKLINE>
    """
    document = tomlkit.parse(text)
    if table not in document:
        document[table] = tomlkit.table()
    _set(document[table], values)
    return tomlkit.dumps(document)


def _set(entry: object, values: Mapping[str, Value]) -> None:
    # An inline comment belongs to its value: tomlkit keeps it when the item is replaced in place.
    for name, value in values.items():
        entry[name] = value  # type: ignore[index]
