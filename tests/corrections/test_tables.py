from __future__ import annotations

import csv
import io
import sys

import openpyxl
import pandas as pd
import pyarrow.parquet as pq
import pytest

from auditor.corrections import tables
from auditor.corrections.tables import write_table
from auditor.errors import InputError, MissingExtra

RISKY = ["=1+1", "+49", "-2", "@SUM(A1)", "\tx", "\rx"]

ROWS = pd.DataFrame(
    {
        "path": pd.Series([*RISKY, 'a, "b".jpg', "c.jpg"], dtype="str"),
        "setting_mm": [-1.5, 2.0, None, 4.0, 5.0, 6.0, 7.0, 8.0],
        "captured_at": pd.to_datetime(["2026-05-02 10:30"] * 7 + [None]),
        "flags": [["a", "b"], [], ["=x"], [], [], [], [], None],
        "kept": pd.array([True, False, None] + [None] * 5, dtype="boolean"),
    }
)


def written(kind: str) -> io.BytesIO:
    out = io.BytesIO()
    write_table(ROWS, kind, out)
    return io.BytesIO(out.getvalue())


def test_nothing_in_a_csv_begins_like_a_formula() -> None:
    rows = list(csv.DictReader(io.TextIOWrapper(written("csv"), encoding="utf-8-sig", newline="")))
    assert len(rows) == len(ROWS)
    assert [row["path"][0] for row in rows[: len(RISKY)]] == ["'"] * len(RISKY)
    assert rows[6]["path"] == 'a, "b".jpg'
    assert rows[0]["setting_mm"] == "-1.5"  # a number is a number
    assert (rows[0]["flags"], rows[2]["flags"], rows[7]["flags"]) == ("a+b", "'=x", "")
    assert [rows[n]["kept"] for n in range(3)] == ["True", "False", ""]


def test_text_in_a_sheet_is_text() -> None:
    sheet = openpyxl.load_workbook(written("xlsx")).active
    assert sheet is not None
    cells = [sheet.cell(row, 1) for row in range(2, 2 + len(RISKY))]
    assert {cell.data_type for cell in cells} == {"s"}
    assert [cell.value for cell in cells][:4] == RISKY[:4]
    assert sheet.cell(2, 2).value == -1.5
    assert sheet.cell(2, 3).value == pd.Timestamp("2026-05-02 10:30")
    assert sheet.cell(9, 3).value is None
    assert sheet.max_row == len(ROWS) + 1


def test_parquet_keeps_every_value_as_it_is() -> None:
    table = pq.read_table(written("parquet"))
    assert table["path"].to_pylist()[:4] == RISKY[:4]
    assert table["flags"].to_pylist()[0] == ["a", "b"]


def test_another_ending_is_refused() -> None:
    with pytest.raises(InputError, match=r"\.ods"):
        write_table(ROWS, "ods", io.BytesIO())


def test_a_sheet_has_only_so_many_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "_XLSX_ROWS", len(ROWS))
    with pytest.raises(InputError, match="more than a sheet"):
        write_table(ROWS, "xlsx", io.BytesIO())


def test_a_missing_library_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "xlsxwriter", None)
    with pytest.raises(MissingExtra, match=r"steadykeep\[xlsx\]"):
        write_table(ROWS, "xlsx", io.BytesIO())
