"""Changing log.csv: a row added, everything else left as it was."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping

from auditor.errors import LogError
from auditor.model.kit import Kit
from auditor.model.log import LOG_COLUMNS, Log, LogRow, column_separator, parse_log

__all__ = ["with_row"]


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
    text = text if text.strip() else ",".join(LOG_COLUMNS) + "\n"
    newline = "\r\n" if "\r\n" in text else "\n"
    head, _, rest = text.partition(newline)
    separator = column_separator(text)
    names = [name.strip().lower() for name in next(csv.reader([head], delimiter=separator))]
    added = [name for name in LOG_COLUMNS if values.get(name) and name not in names]
    head = separator.join([head, *added])
    if rest and not rest.endswith(("\n", "\r")):
        rest += newline
    row = _line([values.get(name, "") for name in (*names, *added)], separator, newline)
    read = parse_log(head + newline + row, kit, "the new row")
    _refuse(read)
    return head + newline + rest + row, read.rows[0]


def _refuse(read: Log) -> None:
    wrong = [sentence for sentence in read.problems if " line " in sentence]
    if wrong or not read.rows:
        plain = [s.removeprefix("the new row line 2: ").removesuffix("; the row is left out") for s in wrong]
        raise LogError("the row was not added", plain or ["nothing was noted in it"])


def _line(cells: list[str], separator: str, newline: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator, lineterminator=newline).writerow(cells)
    return out.getvalue()
