"""The shoot log: what was mounted when, one row a change, as log.csv tells it."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from auditor.errors import KitError, LogError, nearest
from auditor.model.documents import read_text
from auditor.model.kit import Kit
from auditor.model.pairings import pairing_of

__all__ = ["LOG_COLUMNS", "SUBJECTS", "SUPPORTS", "Log", "LogRow", "column_separator", "load_log", "parse_log"]

LOG_COLUMNS = (
    "start", "end", "body", "lens", "adapter", "support", "stabiliser", "setting_mm", "focal_mm",
    "focus_distance_m", "aperture", "subject", "note",
)  # fmt: skip
SUPPORTS = ("hand", "monopod", "tripod", "braced")
SUBJECTS = ("still", "walking", "running")


@dataclass(frozen=True)
class LogRow:
    """
    One row of the log. None stands for what was not noted.

    ``start`` and ``end`` are local time after clock corrections; a row holds until ``end``, else until the
    body's next row, else until the shooting day's last frame.
    """

    line: int
    start: dt.datetime
    body: str
    end: dt.datetime | None = None
    lens: str | None = None
    adapter: str | None = None
    support: str | None = None
    stabiliser: bool | None = None
    setting_mm: float | None = None
    focal_mm: float | None = None
    focus_distance_m: float | None = None
    aperture: float | None = None
    subject: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class Log:
    """The rows that could be read, in order of start, and a sentence for each thing that could not."""

    rows: tuple[LogRow, ...] = ()
    problems: tuple[str, ...] = ()
    unknown_columns: tuple[str, ...] = field(default=())


class _Unreadable(ValueError):
    """One field of one row."""


def load_log(path: Path, kit: Kit) -> Log:
    """
    Read log.csv; a missing file is an empty log.

    Raises
    ------
    LogError
        It cannot be read at all: not text, or no column named ``start``.
    """
    if not path.exists():
        return Log()
    return parse_log(read_text(path, LogError), kit, path.name)


def parse_log(text: str, kit: Kit, source: str = "log.csv") -> Log:
    """
    Turn the text of a log.csv into rows. Commas, semicolons and tabs may part the columns.

    A row that cannot be read becomes a problem with its line number; the others are used.

    Raises
    ------
    LogError
        There is no column named ``start``.
    """
    if not text.strip():
        return Log()
    separator = column_separator(text)
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=separator, restkey="", strict=False)
    names = [(name or "").strip().lower() for name in reader.fieldnames or ()]
    if "start" not in names:
        raise LogError(
            f'{source}: the first row must name the columns, and one of them must be "start"',
            [f"it names {', '.join(n for n in names if n) or 'nothing'}", f"such as {','.join(LOG_COLUMNS)}"],
        )
    reader.fieldnames = names
    rows: list[LogRow] = []
    problems = [
        f'{source}: column "{name}" is not known and is kept as it is{nearest(name, LOG_COLUMNS)}'
        for name in names
        if name and name not in LOG_COLUMNS
    ]
    for raw in reader:
        cells = {name: (value or "").strip() for name, value in raw.items() if name in LOG_COLUMNS}
        if not any(cells.values()):
            continue
        row, wrong = _row(cells, reader.line_num, kit, decimal_comma=separator != ",")
        problems += [f"{source} line {reader.line_num}: {sentence}; the row is left out" for sentence in wrong]
        if row is not None:
            rows.append(row)
    rows.sort(key=lambda row: (row.start, row.line))
    return Log(tuple(rows), tuple(problems), tuple(name for name in names if name and name not in LOG_COLUMNS))


def column_separator(text: str) -> str:
    """Return what parts the columns, from the first row: spreadsheets of some countries write semicolons."""
    header = text.lstrip().splitlines()[0]
    return max(",;\t", key=header.count)


def _row(cells: Mapping[str, str], line: int, kit: Kit, *, decimal_comma: bool) -> tuple[LogRow | None, list[str]]:
    values: dict[str, Any] = {}
    problems: list[str] = []
    for name, parse in _FIELDS.items():
        text = cells.get(name, "")
        if not text:
            continue
        try:
            values[name] = parse(text.replace(",", ".") if decimal_comma and parse in _DECIMAL else text)
        except _Unreadable as reason:
            problems.append(f'{name} = "{text}" {reason}')
    problems += _names(cells, values, kit)
    if "start" not in values and not cells.get("start"):
        problems.append("start is missing, such as 2026-05-02 14:20")
    if "start" in values and "end" in values and values["end"] < values["start"]:
        problems.append(f'end = "{cells["end"]}" is before start = "{cells["start"]}"')
    return (None, problems) if problems else (LogRow(line=line, **values), [])


def _names(cells: Mapping[str, str], values: dict[str, Any], kit: Kit) -> list[str]:
    """Check the ids against the kit; the only body of a kit need not be named."""
    problems = []
    if not cells.get("body"):
        if len(kit.bodies) == 1:
            values["body"] = kit.bodies[0].id
        else:
            problems.append(f"body is missing; it is one of {', '.join(b.id for b in kit.bodies) or 'none in the kit'}")
    for noun, find in (("body", kit.body), ("lens", kit.lens)):
        try:
            if noun in values:
                find(values[noun])
        except KitError as reason:
            problems.append(str(reason))
    if problems or not values.get("adapter"):
        return problems
    return _adapter_problems(values, kit)


def _adapter_problems(values: dict[str, Any], kit: Kit) -> list[str]:
    try:
        if "lens" in values:
            pairing_of(kit, values["body"], values["lens"], values["adapter"])
        else:
            for part in values["adapter"].split("+"):
                kit.adapter(part)
    except KitError as reason:
        return [str(reason)]
    return []


def _time(text: str) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        raise _Unreadable("is not a date and time, such as 2026-05-02 14:20") from None
    if moment.tzinfo is not None:
        raise _Unreadable("has a time zone; write the local time alone, such as 2026-05-02 14:20")
    return moment


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise _Unreadable("is not a number, such as 50 or 1.4") from None
    if not 0 < value < float("inf"):
        raise _Unreadable("should be greater than 0")
    return value


def _distance(text: str) -> float:
    """Accept what stands on a focusing ring, infinity among it."""
    return float("inf") if text.lower() in ("∞", "inf", "infinity") else _number(text)


def _one_of(*words: str) -> Callable[[str], str]:
    def parse(text: str) -> str:
        if text.lower() not in words:
            raise _Unreadable(f"should be {', '.join(words[:-1])} or {words[-1]}{nearest(text.lower(), words)}")
        return text.lower()

    return parse


def _on_off(text: str) -> bool:
    return _one_of("on", "off")(text) == "on"


def _subject(text: str) -> str:
    if text.lower() in SUBJECTS:
        return text.lower()
    try:
        speed = float(text)
    except ValueError:
        raise _Unreadable("should be still, walking, running, or a speed in m/s such as 2.5") from None
    if not 0 <= speed < float("inf"):
        raise _Unreadable("should be a speed of 0 m/s or more")
    return text


def _aperture(text: str) -> float:
    """Accept 2.8 and f/2.8 alike."""
    return _number(text.lower().removeprefix("f/").removeprefix("f"))


def _adapter(text: str) -> str:
    return "+".join(part.strip() for part in text.split("+"))


_DECIMAL = {_number, _distance, _aperture}

_FIELDS: dict[str, Callable[[str], Any]] = {
    "start": _time,
    "end": _time,
    "body": str,
    "lens": str,
    "adapter": _adapter,
    "support": _one_of(*SUPPORTS),
    "stabiliser": _on_off,
    "setting_mm": _number,
    "focal_mm": _number,
    "focus_distance_m": _distance,
    "aperture": _aperture,
    "subject": _subject,
    "note": str,
}
