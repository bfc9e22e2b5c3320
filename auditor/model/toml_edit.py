"""Change single values of the user's TOML files; comments, order and everything else stay as they are."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import Comment

__all__ = ["with_entry", "with_entry_values", "with_table_values", "without_entry"]

Value = object  # anything that TOML knows; None takes a key out

_HEAD = re.compile(r"\s*\[{1,2}[\w .\"'-]+\]{1,2}\s*(#.*)?$")


def with_entry_values(text: str, table: str, entry_id: str, values: Mapping[str, Value]) -> str:
    r"""
    Set values of one entry of a list of tables, found by its id; None takes a key out.

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


def _set(entry: Any, values: Mapping[str, Value]) -> None:
    # An inline comment belongs to its value: tomlkit keeps it when the item is replaced in place.
    new = {}
    for name, value in values.items():
        if value is None:
            entry.pop(name, None)
        elif name in entry:
            entry[name] = value
        else:
            new[name] = value
    if not new:
        return
    # To tomlkit the comment above the next heading is the end of this table: a new key goes before it.
    body = entry.value.body
    end = next((n for n in range(len(body), 0, -1) if body[n - 1][0] is not None), 0)
    while end < len(body) and isinstance(body[end][1], Comment):
        end += 1
    after = body[end:]
    del body[end:]
    for name, value in new.items():
        entry[name] = value
    body.extend(after)


def with_entry(text: str, table: str, values: Mapping[str, object]) -> str:
    r"""
    Add an entry to a list of tables, after the others of its kind.

    Examples
    --------
    >>> print(with_entry('[[lenses]]\nid = "a"\n\n# rings\n[[adapters]]\nid = "c"\n', "lenses", {"id": "b"}))
    [[lenses]]
    id = "a"
    <BLANKLINE>
    [[lenses]]
    id = "b"
    <BLANKLINE>
    # rings
    [[adapters]]
    id = "c"
    <BLANKLINE>
    """
    entry = tomlkit.table()
    for name, value in values.items():
        entry[name] = value
    told = tomlkit.dumps({table: [entry]}).strip("\n").split("\n")
    lines = text.split("\n")
    spans = _spans(lines, table)
    if spans:
        lines[spans[-1][1] : spans[-1][1]] = ["", *told]
    else:
        lines = [*text.rstrip("\n").split("\n"), "", *told, ""] if text.strip() else [*told, ""]
    wanted = tomllib.loads(text)
    wanted.setdefault(table, []).append(entry.unwrap())
    return _checked("\n".join(lines), wanted)


def without_entry(text: str, table: str, entry_id: str) -> str:
    r"""
    Take an entry out of a list of tables, found by its id; comments around it stay.

    Raises
    ------
    KeyError
        There is no such entry.

    Examples
    --------
    >>> print(without_entry('[[lenses]]\nid = "a"\n\n# mine\n[[lenses]]\nid = "b"\n', "lenses", "a"))
    # mine
    [[lenses]]
    id = "b"
    <BLANKLINE>
    """
    wanted = tomllib.loads(text)
    ids = [entry.get("id") for entry in wanted.get(table, [])]
    if entry_id not in ids:
        raise KeyError(entry_id)
    place = ids.index(entry_id)
    del wanted[table][place]
    lines = text.split("\n")
    spans = _spans(lines, table)
    if len(spans) == len(ids):
        first, end = spans[place]
        while end < len(lines) - 1 and not lines[end].strip():
            end += 1
        del lines[first:end]
        return _checked("\n".join(lines), wanted)
    document = tomlkit.parse(text)  # written inline, as lenses = [{...}]
    del document[table][place]
    return _checked(tomlkit.dumps(document), wanted)


def _spans(lines: Sequence[str], table: str) -> list[tuple[int, int]]:
    """Return first line and the line after the last of each entry, with comments that follow without a gap."""
    heads = [n for n, line in enumerate(lines) if _HEAD.match(line)]
    spans = []
    for first, then in zip(heads, [*heads, len(lines)][1:], strict=True):
        named = re.match(r"\s*\[\[\s*([\w-]+)\s*\]\]", lines[first])
        if named is None or named[1] != table:
            continue
        end = then
        while end > first + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
            end -= 1
        while end < then and lines[end].strip():
            end += 1
        spans.append((first, end if end < then or then == len(lines) else _before_the_comment(lines, first, then)))
    return spans


def _before_the_comment(lines: Sequence[str], first: int, then: int) -> int:
    """Comments without a gap to either side belong to what comes below, as a heading does."""
    end = then
    while end > first + 1 and lines[end - 1].lstrip().startswith("#"):
        end -= 1
    return end


def _checked(text: str, wanted: Mapping[str, object]) -> str:
    """Return a text that says exactly what it should; a line of a text over several lines may look like a heading."""
    found = tomllib.loads(text)
    if {name: held for name, held in found.items() if held != []} != {
        name: held for name, held in wanted.items() if held != []
    }:
        raise ValueError("the file is written in a way that cannot be changed safely here; change it in an editor")
    return text
