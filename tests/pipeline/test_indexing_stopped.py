"""Two at once, Ctrl-C, a full disk: what was committed stays, and one row of each frame."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from typing import Any, NoReturn

import pytest

from auditor.errors import StoreError
from auditor.pipeline import index_writer, indexing
from auditor.storage.datasets import read_table
from auditor.storage.lock import StoreLocked, locked
from tests.pipeline.indexed import Archive, counts, picture


def test_two_indexers_at_once(archive: Archive) -> None:
    with locked(archive.store), pytest.raises(StoreLocked, match=f"process {os.getpid()}"):
        archive.index()
    (archive.store / "lock").write_text(json.dumps({"holder": "somebody", "since": "2026-05-02 10:00:00"}))
    assert "somebody since 2026-05-02" in archive.index().messages[0]


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
