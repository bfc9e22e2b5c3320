"""Flagged frames that the photographer looked at and put aside, one a row, as aside.csv keeps them."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.errors import InputError
from auditor.model.own_rows import reader_of

__all__ = ["ASIDE_COLUMNS", "ASIDE_FILE", "PutAside", "aside_text", "parse_aside"]

ASIDE_FILE = "aside.csv"

ASIDE_COLUMNS = ("archive", "path", "flags", "looked_at")
"""Columns of aside.csv."""


@dataclass(frozen=True)
class PutAside:
    """
    A frame that is fine for all its flags.

    ``flags`` are those that were looked at: a frame that is flagged for something else later is worth a look again.
    """

    archive: str
    path: str
    flags: frozenset[str]
    looked_at: dt.datetime | None = None


def aside_text(rows: Sequence[PutAside]) -> str:
    r"""
    Write frames put aside as the text of an aside.csv.

    Examples
    --------
    >>> text = aside_text([PutAside("main", "harbour/a.jpg", frozenset({"shake-likely"}), dt.datetime(2026, 5, 9, 20))])
    >>> text.splitlines()[1]
    'main,harbour/a.jpg,shake-likely,2026-05-09 20:00:00'
    >>> parse_aside(text)[0][0].flags
    frozenset({'shake-likely'})
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(ASIDE_COLUMNS)
    for row in rows:
        looked_at = row.looked_at.isoformat(" ", "seconds") if row.looked_at else ""
        writer.writerow([row.archive, row.path, "+".join(sorted(row.flags)), looked_at])
    return out.getvalue()


def parse_aside(text: str, source: str = ASIDE_FILE) -> tuple[tuple[PutAside, ...], tuple[str, ...]]:
    """
    Read the text of an aside.csv.

    Returns
    -------
    tuple
        The frames in their order, and a sentence with its line for each row that cannot be read and is left out.

    Raises
    ------
    InputError
        The first row does not name the columns.
    """
    reader = reader_of(text, ASIDE_COLUMNS, 3, source, InputError)
    rows, problems = [], []
    for row in reader:
        archive, path = (row["archive"] or "").strip(), row["path"] or ""
        flags = frozenset(filter(None, (row["flags"] or "").split("+")))
        try:
            looked_at = dt.datetime.fromisoformat(row["looked_at"]) if row.get("looked_at") else None
        except ValueError:
            looked_at = None
        if archive and path and flags:
            rows.append(PutAside(archive, path, flags, looked_at))
        else:
            problems.append(f"{source} line {reader.line_num}: archive, path or flags is empty; the row is left out")
    return tuple(rows), tuple(problems)
