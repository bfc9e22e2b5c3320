"""The thread that commits while others read."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any, NoReturn

import pytest

from auditor.errors import StoreError
from auditor.pipeline import index_writer
from auditor.pipeline.changes import Position
from auditor.pipeline.index_writer import Writer
from auditor.readers.records import Record
from auditor.readers.worker import as_columns
from auditor.storage.datasets import Manifest, load_manifest, read_table
from auditor.storage.places import place_at

ROWS = as_columns([Record("a.jpg", 1, 2), Record("b.jpg", 3, 4)])


def until(condition: Any, within_s: float = 20.0) -> bool:
    ends = time.monotonic() + within_s
    while not condition() and time.monotonic() < ends:
        time.sleep(0.01)
    return bool(condition())


def test_rows_that_wait_are_committed_without_more_coming(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index_writer, "_COMMIT_S", 0.05)
    writer = Writer(place_at(tmp_path / "frames"), Manifest())
    writer.add("main", ROWS, ())
    assert until(lambda: load_manifest(tmp_path / "frames").rows == 2)
    assert writer.finish().rows == 2


def test_rows_that_only_go_are_committed_too(tmp_path: Path) -> None:
    place = place_at(tmp_path / "frames")
    writer = Writer(place, Manifest())
    writer.add("main", ROWS, ())
    first = writer.finish()
    writer = Writer(place, first)
    writer.add("main", as_columns([]), [Position(first.parts[0].file, 1)])
    writer.finish()
    assert read_table(tmp_path, "frames", ["path"]).column("path").to_pylist() == ["a.jpg"]


def add_often(writer: Writer) -> None:
    for _ in range(10_000):
        writer.add("main", ROWS, ())


def test_whoever_hands_over_rows_learns_that_a_write_failed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_args: Any) -> NoReturn:
        raise StoreError("No space left on device")

    monkeypatch.setattr(index_writer, "write_part", full)
    monkeypatch.setattr(index_writer, "_COMMIT_ROWS", 1)
    writer = Writer(place_at(tmp_path), Manifest())
    with pytest.raises(StoreError, match="No space left"):
        add_often(writer)
    with pytest.raises(StoreError, match="No space left"):
        writer.finish()


def test_readers_wait_for_room_and_not_for_ever(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index_writer, "_WAITING_ANSWERS", 2)
    monkeypatch.setattr(index_writer, "_COMMIT_ROWS", 1)
    real = index_writer.write_part

    def slow(*args: Any) -> Any:
        time.sleep(0.7)
        return real(*args)

    monkeypatch.setattr(index_writer, "write_part", slow)
    writer = Writer(place_at(tmp_path), Manifest())
    for _ in range(4):
        writer.add("main", ROWS, ())
    assert writer.finish().rows == 8
