"""Rows of another log, such as a spreadsheet's: which are new to log.csv, which it has, which are refused."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, replace

from auditor.errors import LogError
from auditor.model.kit import Kit
from auditor.model.log import LogRow, parse_log

__all__ = ["LogImport", "plan_import"]

_HARMLESS = re.compile(r"'(?=[=+\-@\t\r])")


@dataclass(frozen=True)
class LogImport:
    """
    What an import would do.

    Parameters
    ----------
    rows : tuple of LogRow
        To be added, each with its line in the file that it comes from.
    doubles : int
        Rows that are there already, word for word; they are passed over.
    refused : tuple of str
        A sentence with line and reason for each row that is left out.
    remarks : tuple of str
        What else there is to know, such as columns that are not taken over.
    """

    rows: tuple[LogRow, ...] = ()
    doubles: int = 0
    refused: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def plan_import(existing: str, incoming: str, kit: Kit, source: str) -> LogImport:
    r"""
    Say which rows of a CSV would be added to a log.

    Parameters
    ----------
    existing : str
        The log's text.
    incoming : str
        The CSV's text: the columns of log.csv in any order, comma, semicolon or tab between them.
    kit : Kit
    source : str
        The CSV's name, for the sentences.

    Raises
    ------
    LogError
        One of the two is not a log at all.

    Examples
    --------
    >>> from auditor.model.kit import Body
    >>> body = Body(id="one", name="Silver body", exif_model="Silverline 2", mount="MFT")
    >>> text = "start;support\n2026-05-02 14:20;tripod\n2026-05-02 15:00;hand\nnoon;hand\n"
    >>> plan = plan_import("start,support\n2026-05-02 14:20,tripod\n", text, Kit(bodies=(body,)), "notes.csv")
    >>> len(plan.rows), plan.doubles, plan.refused
    (1, 1, ('notes.csv line 4: start = "noon" is not a date and time, such as 2026-05-02 14:20; the row is left out',))
    """
    try:
        there = parse_log(existing, kit).rows
        read = parse_log(incoming, kit, source)
    except csv.Error as reason:
        raise LogError(f"{source}: not a table of commas, semicolons or tabs ({reason})") from None
    known = {(row.body, row.start): row for row in there}
    exact = {replace(row, line=0) for row in there}
    added: list[LogRow] = []
    refused = [problem for problem in read.problems if problem.startswith(f"{source} line ")]
    doubles = 0
    for row in (_as_noted(row) for row in read.rows):
        before = known.get((row.body, row.start))
        if replace(row, line=0) in exact:
            doubles += 1
        elif before is not None:
            refused.append(f"{source} line {row.line}: {_clash(before, before in there)}; the row is left out")
        else:
            added.append(row)
            known[(row.body, row.start)] = row
            exact.add(replace(row, line=0))
    remarks = tuple(f'column "{name}" is not known and is not taken over' for name in read.unknown_columns)
    return LogImport(tuple(added), doubles, tuple(sorted(refused, key=_line_of)), remarks)


def _as_noted(row: LogRow) -> LogRow:
    """Take off the apostrophe that our own CSVs put before text that a spreadsheet would run."""
    return replace(row, note=_HARMLESS.sub("", row.note, count=1)) if row.note and _HARMLESS.match(row.note) else row


def _clash(before: LogRow, is_in_log: bool) -> str:
    where = "the log" if is_in_log else "this file"
    return f'{where} has another row of body "{before.body}" at {before.start:%Y-%m-%d %H:%M} (line {before.line})'


def _line_of(sentence: str) -> int:
    found = re.search(r" line (\d+): ", sentence)
    return int(found[1]) if found else 0
