from __future__ import annotations

import csv
from pathlib import Path

import openpyxl
import pandas as pd
import pyarrow as pa
import pytest

from auditor.cli import main
from auditor.errors import InputError
from auditor.model.tables import AUDIT, FRAMES, MEASURES
from auditor.model.workspace import open_workspace
from auditor.pipeline.exporting import DETAILED, SUMMARIES, dictionary_beside, export_workspace, frames_with_measures
from auditor.storage.datasets import replace_table
from dashboards.downloads import FLAGGED, TABLES


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("table", [*DETAILED, *SUMMARIES, *TABLES, FLAGGED])
def test_every_table_is_exported_with_the_meaning_of_each_column(
    table: str, sample_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "some.csv"
    assert main(["export", str(target), str(sample_workspace), "--table", table]) == 0, capsys.readouterr().err
    told = read(dictionary_beside(target))
    with target.open(encoding="utf-8-sig", newline="") as file:
        assert next(csv.reader(file)) == [row["column"] for row in told]
    assert [row["column"] for row in told if not row["meaning"]] == []


def test_measures_join_the_frames_where_there_are_any(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    rows = frames_with_measures(workspace)
    assert list(rows.columns) == [*FRAMES.names, *AUDIT.names[2:]]
    first = rows.iloc[0]
    measured = {"archive": first["archive"], "path": first["path"], "edge_width_px": 2.5, "problem": "too dark"}
    values = {field.name: pa.array([measured.get(field.name)], field.type) for field in MEASURES}
    replace_table(workspace.store, "measures", pa.table(values, schema=MEASURES))
    joined = frames_with_measures(workspace)
    assert len(joined) == len(rows)
    assert joined["edge_width_px"].tolist()[0] == 2.5
    assert joined["edge_width_px"].notna().sum() == 1
    assert joined["measure_problem"].dropna().tolist() == ["too dark"]
    assert joined["problem"].equals(rows["problem"])


def test_where_frames_were_made_leaves_only_when_asked_for(
    sample_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target, command = tmp_path / "frames.csv", ["export", str(tmp_path / "frames.csv"), str(sample_workspace)]
    assert main(command) == 0
    assert not set(read(target)[0]) & {"latitude_deg", "longitude_deg"}
    assert "deg" not in dictionary_beside(target).read_text().replace("shake_direction_deg", "")
    assert "kilometre" not in capsys.readouterr().out
    assert main([*command, "--places"]) == 0
    assert "mind whom you give it to" in capsys.readouterr().out
    told = {(row["latitude_deg"], row["longitude_deg"]) for row in read(target)}
    assert ("46.26", "-11.44") in told
    assert all(len(part.partition(".")[2]) <= 2 for pair in told for part in pair), "nothing finer than 0.01°"
    assert "rounded to 0.01°" in dictionary_beside(target).read_text()
    assert main([*command, "--places", "--table", "ledger-by-lens"]) == 1
    assert "holds no places; nothing was exported" in capsys.readouterr().err


def test_a_sheet_bears_the_tables_name_and_text_of_few_kinds_is_harmless(
    sample_workspace: Path, tmp_path: Path
) -> None:
    workspace = open_workspace(sample_workspace)
    target = tmp_path / "rates.xlsx"
    rows = export_workspace(workspace, target, table="ledger-by-lens")
    book = openpyxl.load_workbook(target)
    assert book.sheetnames == ["ledger-by-lens"]
    assert book.active is not None
    assert book.active.max_row == rows + 1
    parquet = tmp_path / "frames.parquet"
    assert export_workspace(workspace, parquet) == len(pd.read_parquet(parquet))


def test_a_wrong_table_lists_them_all(
    sample_workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "x.csv"
    assert main(["export", str(target), str(sample_workspace), "--table", "lensess"]) == 1
    said = capsys.readouterr().err
    assert 'did you mean "lenses"?' in said
    assert all(name in said for name in (*DETAILED, *SUMMARIES, *TABLES, FLAGGED))
    assert not target.exists()


def test_what_may_not_be_written_is_refused_before_anything_is_read(sample_workspace: Path, tmp_path: Path) -> None:
    workspace = open_workspace(sample_workspace)
    for target in (tmp_path / "x.ods", tmp_path / "no" / "x.csv", sample_workspace / "archive" / "x.csv"):
        with pytest.raises(InputError, match="nothing was exported"):
            export_workspace(workspace, target)
