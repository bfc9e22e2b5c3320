"""Tables for other programs: CSV, Parquet and XLSX, with nothing in them that a spreadsheet would run."""

from __future__ import annotations

import io
from typing import BinaryIO

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from auditor.errors import InputError, MissingExtra

__all__ = ["FORMATS", "harmless", "write_table"]

_RISKY = ("=", "+", "-", "@", "\t", "\r")
_XLSX_ROWS = 1_048_576  # ECMA-376 part 1: rows of a sheet, the heading included
_SHEET_NAME = 31  # signs in a sheet's name


def harmless(text: pd.Series) -> pd.Series:
    """
    Put an apostrophe before text that a spreadsheet would read as a formula.

    Notes
    -----
    The signs are those of OWASP, "CSV Injection": = + - @, tab and carriage return.

    Examples
    --------
    >>> harmless(pd.Series(["=1+1", "Orla 50", None], dtype="str")).tolist()
    ["'=1+1", 'Orla 50', nan]
    """
    return text.mask(text.str.startswith(_RISKY).fillna(False).astype(bool), "'" + text)


def write_table(rows: pd.DataFrame, kind: str, out: BinaryIO, *, name: str = "frames") -> None:
    """
    Write a table.

    Parameters
    ----------
    rows : DataFrame
        Lists in it (the flags) become text joined by ``+``, except in Parquet.
    kind : str
        ``csv``, ``parquet`` or ``xlsx``.
    out : binary file
    name : str
        Of the sheet, in XLSX.

    Raises
    ------
    InputError
        The kind is not one of these, or the table is too long for a sheet.
    MissingExtra
        XLSX was asked for and XlsxWriter is not installed.
    """
    if kind not in FORMATS:
        raise InputError(f'".{kind}" is not a format of tables', [f"end the name in .{', .'.join(FORMATS)}"])
    FORMATS[kind](rows, out, name)


def _write_csv(rows: pd.DataFrame, out: BinaryIO, _name: str) -> None:
    # The byte-order mark tells a spreadsheet that the text is UTF-8.
    wrapper = io.TextIOWrapper(out, encoding="utf-8-sig", newline="")
    _as_text(rows, spreadsheet=True).to_csv(wrapper, index=False, lineterminator="\r\n")
    wrapper.detach()


def _write_parquet(rows: pd.DataFrame, out: BinaryIO, _name: str) -> None:
    pq.write_table(pa.Table.from_pandas(rows, preserve_index=False), out, compression="zstd")


def _write_xlsx(rows: pd.DataFrame, out: BinaryIO, name: str) -> None:
    if len(rows) >= _XLSX_ROWS:
        raise InputError(
            f"{len(rows)} rows are more than a sheet of XLSX can hold ({_XLSX_ROWS - 1})",
            ["end the name in .csv or .parquet"],
        )
    try:
        import xlsxwriter
    except ImportError:
        raise MissingExtra(
            "writing XLSX needs the library XlsxWriter", ["pip install 'steadykeep[xlsx]', or end the name in .csv"]
        ) from None
    # Strings stay strings: with these options nothing in a cell is taken for a formula or a link.
    options = {
        "constant_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "nan_inf_to_errors": False,
    }
    with xlsxwriter.Workbook(out, {**options, "remove_timezone": True}) as book:
        sheet = book.add_worksheet(name[:_SHEET_NAME])
        sheet.freeze_panes(1, 0)
        sheet.write_row(0, 0, list(rows.columns), book.add_format({"bold": True}))
        times = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        plain = _as_text(rows, spreadsheet=False).astype(object)
        for number, row in enumerate(plain.where(plain.notna(), None).itertuples(index=False, name=None), start=1):
            for place, value in enumerate(row):
                if isinstance(value, pd.Timestamp):
                    sheet.write_datetime(number, place, value.to_pydatetime(), times)
                elif value is not None:
                    sheet.write(number, place, value)


def _as_text(rows: pd.DataFrame, *, spreadsheet: bool) -> pd.DataFrame:
    """Join lists, and in a CSV make text harmless."""
    columns = {}
    for name in rows.columns:
        column = rows[name]
        if column.dtype == object or isinstance(column.dtype, pd.CategoricalDtype):
            column = column.astype(object).map(_joined, na_action="ignore").astype("str")
        if spreadsheet and isinstance(column.dtype, pd.StringDtype):
            column = harmless(column)
        columns[name] = column
    return pd.DataFrame(columns)


def _joined(held: object) -> str:
    return "+".join(map(str, held)) if isinstance(held, (list, tuple, np.ndarray)) else str(held)


FORMATS = {"csv": _write_csv, "parquet": _write_parquet, "xlsx": _write_xlsx}
"""Formats by the ending of a file's name."""
