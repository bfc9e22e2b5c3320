"""What is typed into a form of the kit <-> the values of its entry."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping

from dashboards.kit_fields import FIELDS, Field

__all__ = ["BLANK_ROWS", "LONGEST", "field_of", "texts_of", "too_long", "values_of"]

BLANK_ROWS = 3
"""Empty rows below those that an entry has."""

LONGEST = 400
"""Characters of one field; nothing that belongs into a kit is longer."""

_MOST_ROWS = 60


def texts_of(table: str, entry: Mapping[str, object]) -> dict[str, str]:
    """
    Return what stands in each field of a form.

    Parameters
    ----------
    table : str
        bodies, lenses or adapters.
    entry : mapping
        Keys and values as in kit.toml.

    Returns
    -------
    dict
        A pair is ``key.0`` and ``key.1``, a row ``key.0.0`` and ``key.0.1``; a key that is missing is an empty text.

    Examples
    --------
    >>> texts = texts_of("lenses", {"id": "veery", "focal_mm": [70, 150], "breathing": [[1.6, 155.0]]})
    >>> texts["focal_mm.0"], texts["focal_mm.1"], texts["breathing.0.1"], texts["breathing.1.0"], texts["price"]
    ('70', '150', '155', '', '')
    """
    return {name: text for field in FIELDS[table] for name, text in _texts(field, entry.get(field.key)).items()}


def _texts(field: Field, value: object) -> dict[str, str]:
    several = list(value) if isinstance(value, (list, tuple)) else ([] if value is None else [value])
    if field.shape == "pair":
        ends = [*(_text(end) for end in several), "", ""]
        return {f"{field.key}.0": ends[0], f"{field.key}.1": "" if ends[1] == ends[0] else ends[1]}
    if field.shape == "rows":
        rows = [*(each if isinstance(each, (list, tuple)) else [] for each in several), *[[]] * BLANK_ROWS]
        return {
            f"{field.key}.{number}.{part}": _text(row[part]) if part < len(row) else ""
            for number, row in enumerate(rows)
            for part in (0, 1)
        }
    if field.shape == "yes":
        return {field.key: "yes" if value is True else "no"}
    if field.shape == "choice":
        return {field.key: _text(field.choices[0][0] if value is None else value)}
    joint = {"lines": "\n", "numbers": " "}.get(field.shape, "")
    return {field.key: joint.join(_text(each) for each in several)}


def _text(value: object) -> str:
    return f"{value:.10g}" if isinstance(value, (int, float)) else str(value)


def values_of(table: str, texts: Mapping[str, str], shown: Mapping[str, str]) -> dict[str, object]:
    """
    Return what a form changes: a value for each key that is typed otherwise than shown, None where it was emptied.

    A number that is none stays a text, so that the kit's own validator says what is wrong with it.

    Examples
    --------
    >>> shown = texts_of("lenses", {"id": "orla-50", "focal_mm": 50, "price": 140.0})
    >>> values_of("lenses", shown | {"focal_mm.0": "70", "focal_mm.1": "35", "price": ""}, shown)
    {'focal_mm': [70, 35], 'price': None}
    >>> values_of("lenses", shown | {"max_aperture": "1,4"}, shown), values_of("lenses", shown, shown)
    ({'max_aperture': 1.4}, {})
    """
    changed: dict[str, object] = {}
    whole = {**shown, **texts}  # what was not sent is as it was, not emptied
    for field in FIELDS[table]:
        typed = _own(field, whole)
        if typed != _own(field, shown):
            changed[field.key] = _value(field, typed)
    return changed


def _own(field: Field, texts: Mapping[str, str]) -> dict[str, str]:
    """Return one field's parts, those that are empty left out."""
    own = {name: text.strip() for name, text in texts.items() if field_of(name) == field.key}
    return {name: text for name, text in own.items() if text}


def field_of(name: str) -> str:
    """
    Return the key that a part of a form belongs to.

    Examples
    --------
    >>> field_of("breathing.0.1"), field_of("price")
    ('breathing', 'price')
    """
    return name.split(".", 1)[0]


def _value(field: Field, typed: Mapping[str, str]) -> object:
    if field.shape == "yes":
        return typed.get(field.key) == "yes"
    if not typed:
        return None
    if field.shape == "pair":
        ends = [_number(typed.get(f"{field.key}.{part}", "")) for part in (0, 1)]
        return ends if ends[1] != "" else ends[0]
    if field.shape == "rows":
        return _rows(field, typed)
    text = typed[field.key]
    if field.shape == "numbers":
        return [_number(part) for part in re.split(r"[\s;]+", text)]
    if field.shape == "lines":
        return [line.strip() for line in text.splitlines() if line.strip()]
    if field.shape == "day":
        return _day(text)
    return _number(text) if field.shape == "number" else text


def _rows(field: Field, typed: Mapping[str, str]) -> list[list[int | float | str]]:
    numbers = sorted({int(part) for part in (name.split(".")[1] for name in typed) if part.isdecimal()})[:_MOST_ROWS]
    rows = [[_number(typed.get(f"{field.key}.{number}.{part}", "")) for part in (0, 1)] for number in numbers]
    return sorted(rows, key=lambda row: (isinstance(row[0], str), row[0] if not isinstance(row[0], str) else 0))


def _number(text: str) -> int | float | str:
    """Return a number, a decimal comma read as a point; else the text as it is."""
    try:
        value = float(text.replace(",", ".", 1))
    except ValueError:
        return text
    if not math.isfinite(value):
        return text
    return int(value) if re.fullmatch(r"-?\d{1,9}", text) else value


def _day(text: str) -> dt.date | str:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return text


def too_long(texts: Mapping[str, str]) -> dict[str, str]:
    """Return a sentence for each part that no kit can hold: far too long, or not to be written as UTF-8."""
    told = {name: f"longer than {LONGEST} characters" for name, text in texts.items() if len(text) > LONGEST}
    broken = {name: "holds a character that is none" for name, text in texts.items() if _is_broken(text)}
    return {field_of(name): f"{field_of(name)} {why}" for name, why in (told | broken).items()}


def _is_broken(text: str) -> bool:
    return any("\ud800" <= character <= "\udfff" or character == "\x00" for character in text)
