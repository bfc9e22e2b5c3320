"""Reading the user's TOML files: every problem at once, each with its place, value and what is right."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from auditor.errors import InputError, nearest

__all__ = ["AsTuple", "Entry", "Pair", "parse_toml", "problems_by_key", "read_text", "validate"]

T = TypeVar("T", bound=BaseModel)


class Entry(BaseModel):
    """A frozen value read from a user's file: unknown keys and loose types are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


def _as_pair(value: object) -> object:
    """Let one number stand for both ends of a range."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return (float(value), float(value))
    return tuple(value) if isinstance(value, list) else value


def _as_tuple(value: object) -> object:
    return tuple(tuple(v) if isinstance(v, list) else v for v in value) if isinstance(value, list) else value


_Finite = Annotated[float, Field(allow_inf_nan=False)]
Pair = Annotated[tuple[_Finite, _Finite], BeforeValidator(_as_pair)]
"""Two numbers; where one is written it is both."""

AsTuple = BeforeValidator(_as_tuple)
"""TOML arrays become tuples, so that a frozen value is frozen throughout."""


def read_text(path: Path, error: type[InputError]) -> str:
    """
    Read a user's file as UTF-8 (with or without a byte-order mark).

    Raises
    ------
    InputError
        Of the given kind: the file is missing, unreadable or not UTF-8.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise error(f"{path.name}: there is no such file in {path.parent}") from None
    except UnicodeDecodeError as reason:
        raise error(f"{path.name}: not UTF-8 at byte {reason.start}; save it as UTF-8 and try again") from None
    except OSError as reason:
        raise error(f"{path.name}: cannot be read ({reason.strerror})") from None


def parse_toml(text: str, source: str, error: type[InputError]) -> dict[str, Any]:
    """
    Parse TOML; a slip in it is reported with its line.

    Raises
    ------
    InputError
        Of the given kind.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as reason:
        raise error(f"{source}: not valid TOML, nothing was computed", [str(reason)]) from None


def validate(kind: type[T], entry: object, place: str) -> tuple[T | None, list[str]]:
    """
    Turn one entry into its value, or into the list of everything wrong with it.

    Parameters
    ----------
    kind : type of Entry
        What it should become.
    entry : object
        As parsed from TOML.
    place : str
        Where it stands, for the messages, such as ``lenses[3] "hale-85"``.
    """
    if not isinstance(entry, Mapping):
        return None, [f"{place}: {_shown(entry)} should be a table of keys and values"]
    try:
        return kind.model_validate(entry), []
    except ValidationError as reasons:
        return None, [
            f"{place}: {sentence}" for _, sentence in _problems(reasons.errors(include_url=False), kind, entry)
        ]


def problems_by_key(kind: type[BaseModel], entry: Mapping[str, Any]) -> dict[str, str]:
    """
    Return everything wrong with one entry, a sentence a key, as ``validate`` says it.

    What is wrong with several keys together stands under the one that its sentence begins with.

    Examples
    --------
    >>> class Ring(Entry):
    ...     factor: float = Field(gt=0, examples=["factor = 0.71"])
    >>> problems_by_key(Ring, {"factor": -1.0})
    {'factor': 'factor = -1.0 should be greater than 0; such as factor = 0.71'}
    >>> problems_by_key(Ring, {"factor": 1.0})
    {}
    """
    try:
        kind.model_validate(entry)
    except ValidationError as reasons:
        found = _problems(reasons.errors(include_url=False), kind, entry)
        return {key or sentence.split(" ", 1)[0]: sentence for key, sentence in found}
    return {}


def _problems(
    details: list[ErrorDetails], kind: type[BaseModel], entry: Mapping[str, Any]
) -> Iterator[tuple[str, str]]:
    """Yield each key that is wrong with a sentence: value as written, what is wrong, what is right."""
    seen: set[str] = set()
    for detail in details:
        key = str(detail["loc"][0]) if detail["loc"] else ""
        if key not in seen:
            yield key, _sentence(detail, kind, key, entry)
        seen.add(key)


def _sentence(detail: ErrorDetails, kind: type[BaseModel], key: str, entry: Mapping[str, Any]) -> str:
    known = {field.alias or name: field for name, field in kind.model_fields.items()}
    if key not in known:
        return f"unknown key {key!r}{nearest(key, known)}" if key else _plain(detail["msg"])
    examples = known[key].examples
    example = f"; such as {examples[0]}" if examples else ""
    if key not in entry:
        return f"{key} is missing{example}"
    wrong = "does not have the right form" if detail["type"] == "missing" else _plain(detail["msg"])
    return f"{key} = {_shown(entry[key])} {wrong}{example}"


_PLAIN = (
    ("Value error, ", ""),
    ("Input should be", "should be"),
    ("String should have at least 1 character", "should not be empty"),
    ("Tuple should have", "should have"),
    ("a valid number", "a number"),
    ("a valid string", "text in quotes"),
    ("a valid boolean", "true or false"),
    ("a valid tuple", "a number or a list"),
    ("a valid ", "a "),
)


def _plain(message: str) -> str:
    """Reword the validator's message as one of us would say it."""
    for theirs, ours in _PLAIN:
        message = message.replace(theirs, ours)
    return message


def _shown(value: object) -> str:
    """Return a value as it would stand in TOML, cut when long."""
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, Mapping):
        text = "a table"
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "…"
