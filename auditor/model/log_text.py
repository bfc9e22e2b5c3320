"""Changing log.csv: rows added, mended or removed, everything else left as it was, byte for byte."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from auditor.errors import LogError
from auditor.model.kit import Kit
from auditor.model.log import LOG_COLUMNS, Log, LogRow, column_separator, parse_log

__all__ = ["Noted", "noted_rows", "row_values", "with_row", "with_row_mended", "with_rows", "without_row"]


@dataclass(frozen=True)
class Noted:
    """
    One row as it stands in the file.

    Parameters
    ----------
    key : str
        Its line and a check of its text: it names this row as long as the row is as it was.
    line : int
        Line on which it ends.
    cells : mapping
        Column to text, the known columns.
    row : LogRow or None
        As read; None where it cannot be read, and ``problems`` says why.
    """

    key: str
    line: int
    cells: Mapping[str, str]
    row: LogRow | None
    problems: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Record:
    """A record of the file: its cells, and the places of its first line and of the line after its last."""

    first: int
    last: int
    cells: list[str]


def row_values(row: LogRow) -> dict[str, str]:
    """
    Return a row as it would be written, columns that say nothing left out.

    Examples
    --------
    >>> row_values(LogRow(2, dt.datetime(2026, 5, 2, 14, 20), "one", stabiliser=False, aperture=2.8, setting_mm=50.0))
    {'start': '2026-05-02 14:20', 'body': 'one', 'stabiliser': 'off', 'setting_mm': '50', 'aperture': '2.8'}
    """
    return {name: _written(value) for name in LOG_COLUMNS if (value := getattr(row, name)) is not None}


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, dt.datetime):
        whole = "minutes" if value.second == value.microsecond == 0 else "auto"
        return value.isoformat(" ", whole)
    if value == float("inf"):
        return "∞"
    return repr(value).removesuffix(".0") if isinstance(value, float) else str(value)


def with_row(text: str, values: Mapping[str, str], kit: Kit) -> tuple[str, LogRow]:
    r"""
    Return the text of a log with one row more, and that row as it will be read.

    Parameters
    ----------
    text : str
        The log as it stands; empty for a new one.
    values : mapping of str to str
        Column to what is written in it; a column that the log does not have yet is added to its first row.
    kit : Kit
        Whose ids the row may name.

    Raises
    ------
    LogError
        The row cannot be read, with every problem in it; the log is not changed.

    Examples
    --------
    >>> from auditor.model.kit import Body
    >>> body = Body(id="one", name="Silver body", exif_model="Silverline 2", mount="MFT")
    >>> print(with_row("start,note\n", {"start": "2026-05-02 14:20", "support": "tripod"}, Kit(bodies=(body,)))[0])
    start,note,support
    2026-05-02 14:20,,tripod
    <BLANKLINE>
    """
    changed, rows = with_rows(text, [values], kit)
    return changed, rows[0]


def with_rows(text: str, several: Sequence[Mapping[str, str]], kit: Kit) -> tuple[str, tuple[LogRow, ...]]:
    """
    Return the text of a log with several rows more, and those rows as they will be read.

    Raises
    ------
    LogError
        One of them cannot be read; the log is not changed.
    """
    lines, separator, newline, names = _opened(text, several)
    if len(lines) > 1 and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += newline
    added = [_line([values.get(name, "") for name in names], separator, newline) for values in several]
    read = parse_log(lines[0] + "".join(added), kit, "the new row")
    _refuse(read, len(several), "the row was not added")
    return "".join([*lines, *added]), read.rows


def noted_rows(text: str, kit: Kit, source: str = "log.csv") -> tuple[Noted, ...]:
    """
    Return the rows of a log as they stand in the file, those that cannot be read among them.

    Raises
    ------
    LogError
        As in ``parse_log``.
    """
    log = parse_log(text, kit, source)
    rows = {row.line: row for row in log.rows}
    names, *records = _records(text) or [_Record(0, 0, [])]
    columns = [name.strip().lower() for name in names.cells]
    lines, noted = _lines(text), []
    for record in records:
        cells = {name: cell.strip() for name, cell in zip(columns, record.cells, strict=False) if name in LOG_COLUMNS}
        if any(cells.values()):
            place = f"{source} line {record.last}: "
            wrong = tuple(problem.removeprefix(place) for problem in log.problems if problem.startswith(place))
            key = f"{record.last}-{_check(lines[record.first : record.last])}"
            noted.append(Noted(key, record.last, cells, rows.get(record.last), wrong))
    return tuple(noted)


def with_row_mended(text: str, key: str, values: Mapping[str, str], kit: Kit) -> tuple[str, LogRow]:
    """
    Return the text of a log with one row written anew, and that row as it will be read.

    Parameters
    ----------
    text : str
        The log as it stands.
    key : str
        Of the row, as ``noted_rows`` gave it.
    values : mapping of str to str
        What the known columns shall say; what is missing here is emptied. Unknown columns keep their text.
    kit : Kit

    Raises
    ------
    LogError
        The row was changed meanwhile, or cannot be read as it would be; the log is not changed.
    """
    record = _found(text, key)
    lines, separator, newline, names = _opened(text, [values])
    old = dict(zip(names, record.cells, strict=False))
    cells = [values.get(name, "") if name in LOG_COLUMNS else old.get(name, "") for name in names]
    cells += record.cells[len(names) :]
    row = _line(cells, separator, newline)
    read = parse_log(lines[0] + row, kit, "the new row")
    _refuse(read, 1, "the row was not changed")
    return "".join([*lines[: record.first], row, *lines[record.last :]]), read.rows[0]


def without_row(text: str, key: str) -> str:
    """
    Return the text of a log without one row.

    Raises
    ------
    LogError
        The row was changed meanwhile.
    """
    record = _found(text, key)
    lines = _lines(text)
    return "".join([*lines[: record.first], *lines[record.last :]])


def _lines(text: str) -> list[str]:
    """Cut where the csv module does, and nowhere else."""
    return list(io.StringIO(text, newline=""))


def _records(text: str) -> list[_Record]:
    if not text.strip():
        return []
    reader = csv.reader(iter(_lines(text)), delimiter=column_separator(text))
    records: list[_Record] = []
    for cells in reader:
        records.append(_Record(records[-1].last if records else 0, reader.line_num, cells))
    return records


def _check(lines: list[str]) -> str:
    return hashlib.blake2b("".join(lines).rstrip("\r\n").encode("utf-8", "surrogatepass"), digest_size=8).hexdigest()


def _found(text: str, key: str) -> _Record:
    """Find a row by its key: on its line, else where it has moved to, if that is one place only."""
    line, _, check = key.partition("-")
    lines = _lines(text)
    alike = [record for record in _records(text)[1:] if _check(lines[record.first : record.last]) == check]
    same = [record for record in alike if str(record.last) == line] or alike
    if len(same) != 1:
        raise LogError("the row was changed or removed meanwhile, nothing was written; choose it again")
    return same[0]


def _opened(text: str, several: Sequence[Mapping[str, str]]) -> tuple[list[str], str, str, list[str]]:
    """Return lines with the first one complete, separator, line end, and columns; missing ones are added."""
    text = text if text.strip() else ",".join(LOG_COLUMNS) + "\n"
    newline = "\r\n" if "\r\n" in text else "\n"
    separator = column_separator(text)
    head = _records(text)[0]
    lines = _lines(text)
    names = [name.strip().lower() for name in head.cells]
    added = [name for name in LOG_COLUMNS if name not in names and any(values.get(name) for values in several)]
    first = separator.join(["".join(lines[: head.last]).rstrip("\r\n"), *added]) + newline
    # Empty lines keep the places of the others where the first row spans several lines.
    return [first, *[""] * (head.last - 1), *lines[head.last :]], separator, newline, [*names, *added]


def _refuse(read: Log, wanted: int, headline: str) -> None:
    wrong = [sentence for sentence in read.problems if " line " in sentence]
    if wrong or len(read.rows) != wanted:
        plain = [
            sentence.removeprefix("the new row line 2: ").removesuffix("; the row is left out") for sentence in wrong
        ]
        raise LogError(headline, plain or ["nothing was noted in it"])


def _line(cells: list[str], separator: str, newline: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator, lineterminator=newline).writerow(cells)
    return out.getvalue()
