"""The index: what it reads, what it leaves alone, what it says, and what survives."""

from __future__ import annotations

import datetime as dt
import errno
import json
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
import pyarrow as pa
import pytest

from auditor.errors import StoreError, WorkspaceError
from auditor.model.tables import FRAMES, MEASURES, OVERLAPS
from auditor.pipeline import index_writer, indexing
from auditor.pipeline.indexing import IndexSummary, index_archives
from auditor.readers import frames as frame_reading
from auditor.readers.names import file_at
from auditor.readers.problems import Problem, Skipped
from auditor.storage.datasets import read_table, replace_table
from auditor.storage.lock import StoreLocked, locked
from tests.readers import making


def picture(when: str = "2026:05:02 14:20:31", rating: int | None = None, model: str = "Silverline 2") -> bytes:
    exif = [entry for entry in making.EXPOSURE if entry[0] not in (0x9003, 0x9291)]
    block = making.tiff("<", [making.MAKE, (0x0110, 2, model)], [*exif, (0x9003, 2, when)])
    packets = [] if rating is None else [making.app1_xmp(making.xmp_packet(rating))]
    return making.jpeg(making.app1(block), *packets)


def raw(when: str = "2026:05:02 14:20:31") -> bytes:
    exif = [entry for entry in making.EXPOSURE if entry[0] not in (0x9003, 0x9291)]
    return making.tiff("<", [making.MAKE, making.MODEL], [*exif, (0x9003, 2, when)], 0x4F52)


class Archive:
    """An archive in a test's folder, and its index."""

    def __init__(self, folder: Path) -> None:
        self.root, self.store = folder / "archive", folder / "store"
        self.root.mkdir()

    def put(self, path: str, content: bytes, mtime_s: int = 1_777_000_000) -> Path:
        file = self.root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)
        os.utime(file, (mtime_s, mtime_s))
        return file

    def index(self, **options: Any) -> IndexSummary:
        return index_archives({"main": self.root}, self.store, **options)

    def rows(self) -> dict[str, dict[str, Any]]:
        return {row["path"]: row for row in read_table(self.store, "frames").to_pylist()}


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    return Archive(tmp_path)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the files that the index opens."""
    seen: list[str] = []
    real = frame_reading._open

    def note(root: str, path: str) -> int:
        seen.append(path)
        return real(root, path)

    monkeypatch.setattr(frame_reading, "_open", note)
    return seen


def counts(summary: IndexSummary) -> tuple[int, int, int, int, int]:
    return summary.frames, summary.new, summary.changed, summary.unchanged, summary.gone


def test_only_what_is_new_or_changed_is_opened(archive: Archive, opened: list[str]) -> None:
    archive.put("day/a.jpg", picture())
    archive.put("day/b.jpg", picture())
    archive.put("c.jpg", picture())
    assert counts(archive.index()) == (3, 3, 0, 0, 0)
    assert archive.rows()["day/a.jpg"]["captured_at"] == dt.datetime(2026, 5, 2, 14, 20, 31)
    opened.clear()
    assert counts(archive.index()) == (3, 0, 0, 3, 0)
    assert opened == []
    archive.put("day/b.jpg", picture(rating=3), 1_777_000_001)
    archive.put("day/d.jpg", picture())
    (archive.root / "c.jpg").unlink()
    assert counts(archive.index()) == (3, 1, 1, 1, 1)
    assert sorted(opened) == ["day/b.jpg", "day/d.jpg"]
    assert sorted(archive.rows()) == ["day/a.jpg", "day/b.jpg", "day/d.jpg"]
    assert archive.rows()["day/b.jpg"]["rating"] == 3


def test_a_folder_that_is_gone_takes_its_rows_along(archive: Archive) -> None:
    archive.put("kept/a.jpg", picture())
    archive.put("gone/deep/b.jpg", picture())
    archive.index()
    shutil.rmtree(archive.root / "gone")
    assert counts(archive.index()) == (1, 0, 0, 1, 1)


def test_an_archive_that_left_the_settings_leaves_the_table(archive: Archive, tmp_path: Path) -> None:
    archive.put("a.jpg", picture())
    other = tmp_path / "other"
    other.mkdir()
    (other / "b.jpg").write_bytes(picture())
    assert index_archives({"main": archive.root, "other": other}, archive.store).frames == 2
    assert counts(archive.index()) == (1, 0, 0, 1, 1)


def test_raw_and_jpeg_of_one_exposure_are_one_frame(archive: Archive, opened: list[str]) -> None:
    archive.put("a.orf", raw())
    archive.put("a.jpg", picture(rating=4), 1_777_000_009)
    archive.put("b.orf", raw("2026:05:02 15:00:00"))
    archive.put("b.jpg", picture("2026:05:02 16:00:00"))
    assert counts(archive.index()) == (3, 3, 0, 0, 0)
    rows = archive.rows()
    assert (rows["a.orf"]["companion"], rows["a.orf"]["rating"], rows["a.orf"]["format"]) == ("a.jpg", 4, "orf")
    assert rows["b.orf"]["companion"] is None, "one name, two exposures"
    assert rows["b.jpg"]["captured_at"] == dt.datetime(2026, 5, 2, 16)
    opened.clear()
    archive.put("c.jpg", picture())  # so that the folder is looked into
    assert counts(archive.index()) == (4, 1, 0, 3, 0)
    assert opened == ["c.jpg"]
    (archive.root / "a.jpg").unlink()
    assert counts(archive.index()) == (4, 0, 1, 3, 0)
    assert archive.rows()["a.orf"]["companion"] is None
    archive.put("c.orf", raw())
    assert counts(archive.index()) == (4, 0, 1, 3, 0), "the row of c.jpg became the pair's"
    assert archive.rows()["c.orf"]["companion"] == "c.jpg"


def test_a_raw_file_that_cannot_be_read_is_completed_by_its_jpeg(archive: Archive) -> None:
    archive.put("a.crw", b"II\x1a\0\0\0HEAPCCDR" + bytes(30))
    archive.put("a.jpg", picture())
    archive.index()
    row = archive.rows()["a.crw"]
    assert (row["format"], row["model"], row["problem"]) == ("crw", "Silverline 2", None)


def test_a_sidecar_wins_and_its_change_is_seen(archive: Archive, opened: list[str]) -> None:
    archive.put("a.jpg", picture(rating=1))
    archive.put("b.jpg", picture(rating=1))
    archive.put("c.orf", raw())
    archive.put("a.xmp", making.xmp_packet(5))
    archive.put("c.orf.xmp", making.xmp_packet(-1))
    archive.put("nobody.xmp", making.xmp_packet(3))
    summary = archive.index()
    assert summary.skipped == {Skipped.SIDECAR_ALONE.value: 1}
    assert {path: row["rating"] for path, row in archive.rows().items()} == {"a.jpg": 5, "b.jpg": 1, "c.orf": -1}
    opened.clear()
    archive.put("a.xmp", making.xmp_packet(2), 1_777_000_050)
    assert counts(archive.index()) == (3, 0, 1, 2, 0)
    assert opened == ["a.jpg", "a.xmp"]
    assert archive.rows()["a.jpg"]["rating"] == 2
    (archive.root / "a.xmp").unlink()
    archive.index()
    assert archive.rows()["a.jpg"]["rating"] == 1
    assert archive.index().skipped == {Skipped.SIDECAR_ALONE.value: 1}, "counted in an unchanged folder too"


def test_what_is_no_frame_is_counted(archive: Archive) -> None:
    archive.put("a.jpg", picture())
    archive.put("notes.txt", b"")
    archive.put("clip.MOV", b"")
    archive.put(".hidden.jpg", picture())
    archive.put("@eaDir/a.jpg", picture())
    archive.put("unknown.ending", b"nothing to see")
    archive.put("ORIGINAL", picture())  # a picture without an ending
    archive.put("broken.jpg", b"")
    os.mkfifo(archive.root / "pipe.jpg")
    (archive.root / "folder.jpg").mkdir()
    (archive.root / "nowhere.jpg").symlink_to("not-there.jpg")
    (archive.root / "round.jpg").symlink_to("round.jpg")
    (archive.root / "loop").symlink_to(".")
    summary = archive.index()
    assert summary.skipped == {
        Skipped.DEAD_LINK.value: 2,
        Skipped.FOLDER_SEEN.value: 1,
        Skipped.HIDDEN.value: 2,
        Skipped.NOT_A_PICTURE.value: 3,
        Skipped.NOT_A_FILE.value: 1,
    }
    assert sorted(archive.rows()) == ["ORIGINAL", "a.jpg", "broken.jpg"]
    assert summary.problems == {Problem.EMPTY.value: 1}
    again = archive.index()
    assert (again.skipped, again.problems, again.unchanged) == (summary.skipped, summary.problems, 3)


def test_linked_folders_are_read_once(archive: Archive, tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "b.jpg").write_bytes(picture())
    archive.put("real/a.jpg", picture())
    (archive.root / "linked").symlink_to(outside)
    (archive.root / "again").symlink_to(archive.root / "real")
    archive.index()
    assert sorted(archive.rows()) == ["linked/b.jpg", "real/a.jpg"]


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere names are Unicode")
def test_names_that_are_not_utf8_are_kept_and_read_back(archive: Archive) -> None:
    name = os.fsdecode(b"caf\xe9 \\ 1.jpg")
    archive.put(name, picture())
    archive.put(name[:-4] + ".xmp", making.xmp_packet(3))
    archive.index()
    [(path, row)] = archive.rows().items()
    assert path == r"caf\xe9 \\ 1.jpg"
    assert row["rating"] == 3
    assert file_at(archive.root, path).read_bytes() == picture()
    assert counts(archive.index()) == (1, 0, 0, 1, 0)


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="needs a file that may not be read")
def test_a_file_that_may_not_be_read_says_so(archive: Archive) -> None:
    archive.put("a.jpg", picture()).chmod(0)
    archive.index()
    assert archive.rows()["a.jpg"]["problem"] == Problem.NO_PERMISSION.value


@pytest.mark.parametrize(
    ("error", "problem"),
    [
        (PermissionError(errno.EACCES, "no"), Problem.NO_PERMISSION),
        (FileNotFoundError(errno.ENOENT, "gone"), Problem.VANISHED),
        (OSError(errno.EIO, "bad disk"), Problem.NOT_READABLE),
        (ZeroDivisionError("a bug"), Problem.NOT_UNDERSTOOD),
    ],
)
def test_whatever_happens_to_a_file_is_its_rows_problem(
    archive: Archive, monkeypatch: pytest.MonkeyPatch, error: Exception, problem: Problem
) -> None:
    archive.put("a.jpg", picture())

    def fail(_root: str, _path: str) -> NoReturn:
        raise error

    monkeypatch.setattr(frame_reading, "_open", fail)
    summary = archive.index()
    assert summary.problems == {problem.value: 1}
    assert archive.rows()["a.jpg"]["size"] == len(picture())
    assert bool(summary.given_up) == (problem is Problem.NOT_UNDERSTOOD)


def test_a_file_that_changes_while_it_is_read(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    file = archive.put("a.jpg", picture())
    real = frame_reading.read_picture

    def read_while_written(window: Any) -> Any:
        found = real(window)
        with file.open("ab") as stream:
            stream.write(b"more")
        return found

    with monkeypatch.context() as patched:
        patched.setattr(frame_reading, "read_picture", read_while_written)
        archive.index()
    assert archive.rows()["a.jpg"]["problem"] == Problem.CHANGED.value
    assert archive.index().changed == 1
    assert archive.rows()["a.jpg"]["problem"] is None


def test_an_archive_that_is_not_there_or_suddenly_empty_changes_nothing(archive: Archive) -> None:
    file = archive.put("a.jpg", picture())
    archive.index()
    file.unlink()
    with pytest.raises(WorkspaceError, match="1 frames of it are known"):
        archive.index()
    archive.root.rmdir()
    with pytest.raises(WorkspaceError, match="is the disk connected"):
        archive.index()
    assert list(archive.rows()) == ["a.jpg"]


def test_a_folder_that_cannot_be_read_keeps_its_rows(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    archive.put("open/a.jpg", picture())
    archive.put("closed/deep/b.jpg", picture())
    archive.put("closed/c.jpg", picture())
    archive.index()
    real = os.scandir

    def refuse(where: str) -> Any:
        if where.rstrip("/").endswith("closed"):
            raise PermissionError(errno.EACCES, "closed", where)
        return real(where)

    with monkeypatch.context() as patched:
        patched.setattr(os, "scandir", refuse)
        summary = archive.index()
    assert summary.skipped == {Skipped.FOLDER_CLOSED.value: 1}
    assert counts(summary) == (3, 0, 0, 3, 0)
    assert counts(archive.index()) == (3, 0, 0, 3, 0)


def test_frames_that_moved_keep_what_was_computed_about_them(archive: Archive) -> None:
    archive.put("a.jpg", picture("2026:05:02 10:00:00"))
    archive.put("b.jpg", picture("2026:05:02 11:00:00"))
    archive.put("c.jpg", picture("2026:05:02 12:00:00"))
    archive.index()
    measures = [dict.fromkeys(MEASURES.names) | {"archive": "main", "path": path} for path in ("a.jpg", "b.jpg")]
    measures[0]["edge_width_px"] = 1.5
    replace_table(archive.store, "measures", pa.Table.from_pylist(measures, schema=MEASURES))
    overlap = dict.fromkeys(OVERLAPS.names) | {"archive": "main", "path_a": "a.jpg", "path_b": "b.jpg"}
    replace_table(archive.store, "overlaps", pa.Table.from_pylist([overlap], schema=OVERLAPS))
    (archive.root / "sorted").mkdir()
    (archive.root / "a.jpg").rename(archive.root / "sorted" / "one.jpg")
    summary = archive.index()
    assert (summary.moved, *counts(summary)) == (1, 3, 1, 0, 2, 1)
    moved = {row["path"]: row["edge_width_px"] for row in read_table(archive.store, "measures").to_pylist()}
    assert moved == {"sorted/one.jpg": 1.5, "b.jpg": None}
    [pair] = read_table(archive.store, "overlaps").to_pylist()
    assert (pair["path_a"], pair["path_b"]) == ("sorted/one.jpg", "b.jpg")


def test_of_two_alike_nothing_is_taken_for_a_move(archive: Archive) -> None:
    archive.put("a.jpg", picture())
    archive.put("b.jpg", picture())
    archive.index()
    (archive.root / "a.jpg").rename(archive.root / "c.jpg")
    (archive.root / "b.jpg").rename(archive.root / "d.jpg")
    assert (archive.index().moved, sorted(archive.rows())) == (0, ["c.jpg", "d.jpg"])


def test_a_store_of_an_older_version_is_built_again_and_said(archive: Archive) -> None:
    archive.put("a.jpg", picture())
    archive.index()
    manifest = archive.store / "frames" / "_manifest.json"
    manifest.write_text(json.dumps(json.loads(manifest.read_text()) | {"schema_version": 0}))
    summary = archive.index()
    assert counts(summary) == (1, 1, 0, 0, 0)
    assert "version 0" in summary.messages[0]
    assert len(list((archive.store / "frames").glob("*.parquet"))) == 1


def test_two_indexers_at_once(archive: Archive) -> None:
    with locked(archive.store), pytest.raises(StoreLocked, match=f"process {os.getpid()}"):
        archive.index()
    (archive.store / "lock").write_text(json.dumps({"holder": "somebody", "since": "2026-05-02 10:00:00"}))
    assert "somebody since 2026-05-02" in archive.index().messages[0]


def test_processes_give_the_same_rows_as_one(archive: Archive) -> None:
    for number in range(700):
        archive.put(f"{number % 7}/{number:04}.jpg", picture(f"2026:05:02 14:{number // 60:02}:{number % 60:02}"))
    told: list[tuple[int, int]] = []
    assert counts(archive.index(jobs=2, progress=lambda done, total: told.append((done, total)))) == (700, 700, 0, 0, 0)
    assert told[-1] == (700, 700)
    assert told == sorted(told, key=lambda pair: pair[0])
    several = read_table(archive.store, "frames").sort_by("path")
    shutil.rmtree(archive.store)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(indexing, "_FEW_FRAMES", 1000)
        archive.index()
    assert read_table(archive.store, "frames").sort_by("path").equals(several)


def interrupting(real: Any, after: int) -> Any:
    def answers(*args: Any) -> Iterator[Any]:
        for number, answer in enumerate(real(*args)):
            if number == after:
                raise KeyboardInterrupt
            yield answer

    return answers


def test_ctrl_c_keeps_what_was_read(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(600):
        archive.put(f"{number:04}.jpg", picture())
    with monkeypatch.context() as patched:
        patched.setattr(indexing, "_answers", interrupting(indexing._answers, 2))
        with pytest.raises(KeyboardInterrupt):
            archive.index(jobs=1)
    assert len(archive.rows()) == 512
    assert counts(archive.index(jobs=1)) == (600, 88, 0, 512, 0)


def test_ctrl_c_while_a_changed_frame_was_read_keeps_one_row_of_it(
    archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(600):
        archive.put(f"{number:04}.jpg", picture())
    archive.index()
    for number in range(600):
        archive.put(f"{number:04}.jpg", picture(rating=5), 1_777_000_077)
    with monkeypatch.context() as patched:
        patched.setattr(indexing, "_answers", interrupting(indexing._answers, 1))
        with pytest.raises(KeyboardInterrupt):
            archive.index()
    ratings = [row["rating"] for row in read_table(archive.store, "frames").to_pylist()]
    assert (len(ratings), ratings.count(5)) == (600, 256)
    assert counts(archive.index()) == (600, 0, 344, 256, 0)


def test_a_full_disk_is_one_clear_error_and_the_old_rows_stay(
    archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive.put("a.jpg", picture())
    archive.index()
    archive.put("b.jpg", picture())

    def full(*_args: Any) -> NoReturn:
        raise StoreError("no room: No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(index_writer, "write_part", full)
        with pytest.raises(StoreError, match="No space left"):
            archive.index()
    assert list(archive.rows()) == ["a.jpg"]
    assert counts(archive.index()) == (2, 1, 0, 1, 0)


def test_archives_and_stores_behind_urls(tmp_path: Path) -> None:
    import fsspec

    memory = fsspec.filesystem("memory")
    base = f"/{tmp_path.name}"
    memory.pipe_file(f"{base}/archive/day/a.jpg", picture(rating=2))
    memory.pipe_file(f"{base}/archive/day/a.xmp", making.xmp_packet(4))
    memory.pipe_file(f"{base}/archive/b.orf", raw())
    memory.pipe_file(f"{base}/archive/.trash/c.jpg", picture())
    archives, store = {"main": f"memory:/{base}/archive"}, f"memory:/{base}/store"
    summary = index_archives(archives, store)
    assert counts(summary) == (2, 2, 0, 0, 0)
    assert summary.skipped == {Skipped.HIDDEN.value: 1}
    rows = {row["path"]: row for row in read_table(store, "frames").to_pylist()}
    assert (rows["day/a.jpg"]["rating"], rows["day/a.jpg"]["exposure_time_s"]) == (4, 1 / 250)
    assert counts(index_archives(archives, store)) == (2, 0, 0, 2, 0)
    memory.rm_file(f"{base}/archive/b.orf")
    assert counts(index_archives(archives, store)) == (1, 0, 0, 1, 1)
    with pytest.raises(WorkspaceError, match="cannot be read"):
        index_archives({"main": f"memory:/{base}/nowhere"}, store)


@pytest.mark.real_frames
def test_every_real_file_has_a_row_and_nothing_in_the_archive_changes(real_frames: Path, tmp_path: Path) -> None:
    def state() -> list[tuple[str, int, int, bytes]]:
        return [
            (str(file), file.stat().st_size, file.stat().st_mtime_ns, file.read_bytes())
            for file in sorted(real_frames.rglob("*"))
            if file.is_file()
        ]

    before = state()
    summary = index_archives({"real": real_frames}, tmp_path / "store")
    assert state() == before
    pictures = [name for name, *_ in before if not name.endswith(".md")]
    rows = read_table(tmp_path / "store", "frames")
    assert summary.frames == rows.num_rows == len(pictures)
    assert rows.schema.equals(FRAMES)
    assert set(summary.problems) <= {problem.value for problem in Problem}
    # Exif 3.0 tables 4 and 5: what cannot be is never kept.
    frame = rows.to_pandas()
    for column in (
        "exposure_time_s",
        "f_number",
        "focal_length_mm",
        "focal_length_35mm_mm",
        "photographic_sensitivity",
    ):
        values = frame[column].dropna().to_numpy(dtype=float)
        assert (values > 0).all(), column
        assert np.isfinite(values).all(), column
    assert frame["orientation"].dropna().between(1, 8).all()
