"""Rows of the small CSV files that the program keeps for the photographer."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from auditor.errors import SteadykeepError

__all__ = ["reader_of"]


def reader_of(
    text: str, columns: Sequence[str], needed: int, source: str, refused: type[SteadykeepError]
) -> csv.DictReader[str]:
    """
    Return a reader of a CSV whose first row names its columns.

    Parameters
    ----------
    text : str
    columns : sequence of str
        All columns, in their order.
    needed : int
        How many of them, from the first, must be there.
    source : str
        The file's name, for the message.
    refused : type
        Error to raise where one is missing; an empty text is no error.
    """
    reader = csv.DictReader(io.StringIO(text, newline=""))
    missing = [name for name in columns[:needed] if name not in (reader.fieldnames or ())]
    if text.strip() and missing:
        raise refused(
            f"{source}: the first row must name the columns, nothing was computed",
            [f"{', '.join(missing)} is missing; it should be {','.join(columns)}"],
        )
    return reader
