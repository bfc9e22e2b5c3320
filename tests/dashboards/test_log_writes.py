"""Changes to the log by a press: written whole, checked against what changed meanwhile, taken back byte for byte."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from auditor.model.workspace import open_workspace
from auditor.pipeline.shoot_log import log_csv, log_rows
from dashboards.log_writes import Log, written_values
from dashboards.undoing import undoable
from tests.dashboards.test_watched import KIT_TOML

ROW = {"start": "2026-05-02 14:20", "lens": "orla-50", "setting_mm": "50", "note": "=1+1, on the pier", "end": ""}
CRLF = b'note,start,weather\r\n"two, words\r\non two lines",2026-05-01 09:00,fog\r\n,2026-05-01 11:00,sun\r\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "kit.toml").write_text(KIT_TOML.format(name="Orla 50 mm f/1.4"), encoding="utf-8")
    return tmp_path


@pytest.fixture
def file(folder: Path) -> Path:
    (folder / "log.csv").write_bytes(CRLF)
    return folder / "log.csv"


def log_of(folder: Path) -> Log:
    return Log(folder, undoable([folder / "log.csv"]))


def keys(folder: Path) -> list[str]:
    return [one.key for one in log_rows(open_workspace(folder))]


def test_a_row_is_added_and_taken_back_byte_for_byte(folder: Path, file: Path) -> None:
    log = log_of(folder)
    said, done = log.add(ROW)
    assert done
    assert "from 2026-05-02 14:20 on" in said
    assert [row.note for row in open_workspace(folder).log.rows][-1] == "=1+1, on the pier"
    assert file.read_bytes().endswith(b"\r\n")
    assert b",sun" in file.read_bytes()
    assert log.undo() == ("Taken back: the row that was added.", True)
    assert file.read_bytes() == CRLF


def test_the_first_row_makes_the_file_and_undo_unmakes_it(folder: Path) -> None:
    log = log_of(folder)
    log.add(ROW)
    assert (folder / "log.csv").exists()
    log.undo()
    assert not (folder / "log.csv").exists()
    assert log.undo() == ("There is nothing to take back.", True)


def test_a_wrong_row_changes_nothing_and_says_everything_that_is_wrong(folder: Path) -> None:
    said, done = log_of(folder).add({"start": "yesterday", "lens": "orla-5", "setting_mm": "fifty"})
    assert not done
    for words in ("yesterday", "orla-50", "fifty"):
        assert words in said
    assert not (folder / "log.csv").exists()


def test_what_another_program_wrote_meanwhile_is_never_undone(folder: Path) -> None:
    log = log_of(folder)
    log.add(ROW)
    path = folder / "log.csv"
    path.write_text(path.read_text(encoding="utf-8") + "2026-05-03 10:00\n", encoding="utf-8")
    kept = path.read_bytes()
    assert "changed by something else" in log.undo()[0]
    assert path.read_bytes() == kept


def test_two_tabs_add_to_the_same_file(folder: Path) -> None:
    one, other = log_of(folder), log_of(folder)
    one.add(ROW)
    other.add(ROW | {"start": "2026-05-02 15:00"})
    assert len(open_workspace(folder).log.rows) == 2


def test_a_mended_row_keeps_all_around_it_and_can_be_taken_back(folder: Path, file: Path) -> None:
    log = log_of(folder)
    assert log.mend(keys(folder)[0], {"start": "2026-05-01 09:05", "support": "tripod"})[1]
    first, second = open_workspace(folder).log.rows
    assert (first.start, first.support, first.note) == (dt.datetime(2026, 5, 1, 9, 5), "tripod", None)
    after = file.read_bytes()
    assert after == b"note,start,weather,support\r\n,2026-05-01 09:05,fog,tripod\r\n,2026-05-01 11:00,sun\r\n"
    assert second.start == dt.datetime(2026, 5, 1, 11)
    assert log.undo() == ("Taken back: the row that was mended.", True)
    assert file.read_bytes() == CRLF


def test_a_row_changed_meanwhile_is_not_mended_but_a_moved_one_is(folder: Path, file: Path) -> None:
    key = keys(folder)[1]
    file.write_bytes(CRLF.replace(b"fog\r\n", b"fog\r\n,2026-05-01 10:00,rain\r\n"))  # another row came before it
    assert log_of(folder).mend(key, {"start": "2026-05-01 11:30"})[1]
    assert b"11:30,sun" in file.read_bytes()
    said, done = log_of(folder).mend(key, {"start": "2026-05-01 12:00"})
    assert not done
    assert "changed or removed meanwhile" in said
    assert not log_of(folder).remove(key)[1]


def test_a_row_removed_is_gone_and_comes_back(folder: Path, file: Path) -> None:
    log = log_of(folder)
    assert log.remove(keys(folder)[0])[1]
    assert file.read_bytes() == b"note,start,weather\r\n,2026-05-01 11:00,sun\r\n"
    assert log.undo()[1]
    assert file.read_bytes() == CRLF


def test_a_row_that_cannot_be_read_can_be_mended(folder: Path, file: Path) -> None:
    file.write_bytes(b"start,lens\nnoon,orla-50\n")
    (one,) = log_rows(open_workspace(folder))
    assert one.row is None
    assert "noon" in one.problems[0]
    assert log_of(folder).mend(one.key, dict(one.cells) | {"start": "2026-05-01 12:00"})[1]
    assert file.read_bytes() == b"start,lens\n2026-05-01 12:00,orla-50\n"


def test_a_csv_is_shown_first_then_taken_in_and_back(folder: Path, file: Path) -> None:
    log = log_of(folder)
    content = (
        "\ufeffstart;aperture;note;sky\r\n2026-05-01 11:00;;;\r\n2026-05-03 10:00;2,8;'=2;blue\r\nsoon;;;\r\n"
        "2026-05-01 09:00;4;;\r\n2026-05-03 10:00;2,8;'=2;\r\n"
    ).encode()
    shown = log.preview("notes.csv", content)
    assert shown.plan is not None
    assert file.read_bytes() == CRLF
    assert [(row.aperture, row.note) for row in shown.plan.rows] == [(2.8, "=2")]
    assert shown.plan.doubles == 2
    assert [reason[:17] for reason in shown.plan.refused] == ["notes.csv line 4:", "notes.csv line 5:"]
    assert "soon" in shown.plan.refused[0]
    assert "the log has another row" in shown.plan.refused[1]
    assert 'column "sky"' in shown.plan.remarks[0]
    assert log.take_in(shown.token) == ("Added 1 row of notes.csv. They count from the next audit.", True)
    assert open_workspace(folder).log.rows[-1].aperture == 2.8
    assert "no longer held" in log.take_in(shown.token)[0]
    assert log.undo() == ("Taken back: the rows of notes.csv.", True)
    assert file.read_bytes() == CRLF


def test_a_log_changed_after_the_preview_is_not_added_to(folder: Path, file: Path) -> None:
    log = log_of(folder)
    shown = log.preview("notes.csv", b"start\n2026-05-03 10:00\n")
    file.write_bytes(CRLF + b",2026-05-03 10:00,\r\n")
    said, done = log.take_in(shown.token)
    assert not done
    assert "changed meanwhile" in said


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"\xff\xfes\x00t\x00", "not UTF-8"),
        (b"date,lens\n2026-05-01,orla-50\n", 'must be "start"'),
        (b'start,note\n2026-05-01 10:00,"' + b"x" * 200_000, "not a table"),
        (b"", ""),
    ],
)
def test_what_is_no_log_says_so(folder: Path, content: bytes, says: str) -> None:
    shown = log_of(folder).preview("photo.csv", content)
    assert says in shown.said
    assert shown.plan is None or not shown.plan.rows


def test_few_previews_are_held(folder: Path) -> None:
    log = log_of(folder)
    tokens = [log.preview("a.csv", b"start\n2026-05-03 10:00\n").token for _ in range(9)]
    assert not log.take_in(tokens[0])[1]
    assert log.take_in(tokens[-1])[1]


def test_the_log_taken_away_runs_nothing_and_comes_back_as_all_there(folder: Path) -> None:
    log = log_of(folder)
    log.add(ROW)
    taken = log_csv(open_workspace(folder))
    assert taken.startswith(b"\xef\xbb\xbf")
    assert b"'=1+1" in taken
    shown = log.preview("log.csv", taken)
    assert shown.plan is not None
    assert (shown.plan.doubles, shown.plan.rows, shown.plan.refused) == (1, (), ())


def test_a_folder_that_cannot_be_written_is_said(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = log_of(folder)
    log.add(ROW)
    log.add(ROW | {"start": "2026-05-02 15:00"})

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("dashboards.undoing.write_bytes", full)
    monkeypatch.setattr("auditor.pipeline.shoot_log.write_text", full)
    assert "No space left" in log.add(ROW | {"start": "2026-05-02 16:00"})[0]
    assert "No space left" in log.undo()[0]


def test_an_hour_alone_is_of_today_but_not_when_a_row_is_mended() -> None:
    now = dt.datetime(2026, 5, 2, 14, 0)
    assert written_values({"start": "9:30"}, now) == {"start": "2026-05-02 09:30"}
    assert written_values({"start": "9:30"}) == {"start": "9:30"}
