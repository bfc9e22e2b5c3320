from __future__ import annotations

from pathlib import Path

import pytest

from auditor.model.workspace import open_workspace
from dashboards.writes import workspace_log
from tests.dashboards.test_watched import KIT_TOML

ROW = {"start": "2026-05-02 14:20", "lens": "orla-50", "setting_mm": "50", "note": "=1+1, on the pier", "end": ""}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "kit.toml").write_text(KIT_TOML.format(name="Orla 50 mm f/1.4"))
    return tmp_path


def test_a_row_is_added_and_taken_back_byte_for_byte(folder: Path) -> None:
    before = b'note,start\r\n"two, words",2026-05-01 09:00\r\n'
    (folder / "log.csv").write_bytes(before)
    log = workspace_log(folder)
    assert "from 2026-05-02 14:20 on" in log.add(ROW)
    assert [row.note for row in open_workspace(folder).log.rows] == ["two, words", "=1+1, on the pier"]
    assert log.undo() == "The row was taken back."
    assert (folder / "log.csv").read_bytes() == before


def test_the_first_row_makes_the_file_and_undo_unmakes_it(folder: Path) -> None:
    log = workspace_log(folder)
    log.add(ROW)
    assert (folder / "log.csv").exists()
    log.undo()
    assert not (folder / "log.csv").exists()
    assert log.undo() == "There is nothing to take back."


def test_a_wrong_row_changes_nothing_and_says_everything_that_is_wrong(folder: Path) -> None:
    said = workspace_log(folder).add({"start": "yesterday", "lens": "orla-5", "setting_mm": "fifty"})
    for words in ("yesterday", "orla-50", "fifty"):
        assert words in said
    assert not (folder / "log.csv").exists()


def test_what_another_program_wrote_meanwhile_is_never_undone(folder: Path) -> None:
    log = workspace_log(folder)
    log.add(ROW)
    path = folder / "log.csv"
    path.write_text(path.read_text(encoding="utf-8") + "2026-05-03 10:00\n", encoding="utf-8")
    kept = path.read_bytes()
    assert "changed by something else" in log.undo()
    assert path.read_bytes() == kept


def test_two_tabs_add_to_the_same_file(folder: Path) -> None:
    one, other = workspace_log(folder), workspace_log(folder)
    one.add(ROW)
    other.add(ROW | {"start": "2026-05-02 15:00"})
    assert len(open_workspace(folder).log.rows) == 2
