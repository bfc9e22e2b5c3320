"""What is no frame, has an odd name, cannot be read, or changes while it is read."""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path
from typing import Any, NoReturn

import pytest

from auditor.errors import WorkspaceError
from auditor.readers import frames as frame_reading
from auditor.readers.names import file_at
from auditor.readers.problems import Problem, Skipped
from tests.pipeline.indexed import Archive, counts, picture
from tests.readers import making


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
