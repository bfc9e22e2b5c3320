"""Datasets: parts, manifest, versions, what a reader sees while a writer works."""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

import pyarrow as pa
import pyarrow.dataset as ds
import pyarrow.parquet as pq
import pytest

from auditor.errors import MissingExtra, StoreError
from auditor.model.tables import AUDIT, FRAMES, empty_table
from auditor.storage import datasets, places
from auditor.storage.compaction import compacted
from auditor.storage.datasets import (
    TABLES,
    Manifest,
    OutdatedStore,
    commit,
    load_manifest,
    read,
    read_table,
    remove_unnamed,
    replace,
    replace_table,
    write_part,
)
from auditor.storage.places import FolderPlace, Place, UrlPlace, place_at


def frames(*paths: str) -> pa.Table:
    rows = [dict.fromkeys(FRAMES.names) | {"archive": "main", "path": path, "size": 7} for path in paths]
    return pa.Table.from_pylist(rows, schema=FRAMES)


def paths(place: Path | Place) -> list[str]:
    return list(read(place, FRAMES, ["path"]).column("path").to_pylist())


@pytest.fixture(params=["folder", "url"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Place:
    if request.param == "folder":
        return place_at(tmp_path / "frames")
    found = place_at(f"memory://{tmp_path.name}/frames")
    assert isinstance(found, UrlPlace)
    return found


def test_rows_come_back_as_they_went_in(place: Place) -> None:
    assert read(place, FRAMES).num_rows == 0
    replace(place, frames("a.jpg", "b.jpg"), FRAMES)
    replace(place, frames("c.jpg"), FRAMES)
    assert paths(place) == ["c.jpg"]
    assert read(place, FRAMES).schema.equals(FRAMES, check_metadata=True)
    assert len(place.names()) == 2, "one part and the manifest: what no manifest names is gone"


def test_parts_are_added_and_rows_dropped_in_one_commit(place: Place) -> None:
    first = write_part(place, frames("a.jpg", "b.jpg", "c.jpg"), FRAMES)
    commit(place, Manifest((first,)))
    second = write_part(place, frames("b2.jpg"), FRAMES)
    assert paths(place) == ["a.jpg", "b.jpg", "c.jpg"], "a part that is not committed does not count"
    commit(place, Manifest((first, second)).dropping({first.file: [1]}))
    assert paths(place) == ["a.jpg", "c.jpg", "b2.jpg"]
    assert load_manifest(place).rows == 3


def test_compaction_leaves_one_part_with_the_rows_that_count(place: Place) -> None:
    parts = tuple(write_part(place, frames(f"{number}.jpg", f"{number}.orf"), FRAMES) for number in range(5))
    manifest = Manifest(parts).dropping({parts[3].file: [0]})
    commit(place, manifest)
    counting = [
        f"{number}.{ending}" for number in range(5) for ending in ("jpg", "orf") if (number, ending) != (3, "jpg")
    ]
    few = compacted(place, manifest, FRAMES)
    assert len(few.parts) == 1
    assert paths(place) == counting, "before the commit nothing changed"
    commit(place, few)
    remove_unnamed(place, few)
    assert sorted(paths(place)) == counting
    assert compacted(place, few, FRAMES) == few, "nothing more to do"


def test_any_parquet_reader_reads_the_folder(tmp_path: Path) -> None:
    replace_table(tmp_path, "frames", frames("a.jpg"))
    table = ds.dataset(tmp_path / "frames").to_table()
    assert table.column("path").to_pylist() == ["a.jpg"]
    [part] = (tmp_path / "frames").glob("*.parquet")
    assert pq.read_schema(part).metadata[b"schema_version"] == b"2"


def test_a_store_of_another_version_is_told_apart(tmp_path: Path) -> None:
    replace_table(tmp_path, "audit", empty_table(AUDIT))
    manifest = tmp_path / "audit" / "_manifest.json"
    manifest.write_text(json.dumps(json.loads(manifest.read_text()) | {"schema_version": 0}))
    with pytest.raises(OutdatedStore, match="version 0") as caught:
        read_table(tmp_path, "audit")
    assert caught.value.found == 0
    assert "steadykeep audit" in str(caught.value)


def test_another_version_of_the_frames_does_not_cost_what_was_measured(tmp_path: Path) -> None:
    for name in ("frames", "measures"):
        replace_table(tmp_path, name, TABLES[name].empty_table())
        manifest = tmp_path / name / "_manifest.json"
        manifest.write_text(json.dumps(json.loads(manifest.read_text()) | {"schema_version": 1}))
    with pytest.raises(OutdatedStore, match="steadykeep index"):
        read_table(tmp_path, "frames")
    assert read_table(tmp_path, "measures").num_rows == 0


@pytest.mark.parametrize("text", ["", "{", '{"schema_version": 1, "parts": [{}]}', "[]"])
def test_a_damaged_manifest_is_an_error_that_says_what_to_do(tmp_path: Path, text: str) -> None:
    replace_table(tmp_path, "frames", frames("a.jpg"))
    (tmp_path / "frames" / "_manifest.json").write_text(text)
    with pytest.raises(StoreError, match="index again"):
        read_table(tmp_path, "frames")


def test_a_part_that_is_gone_or_damaged_is_an_error(tmp_path: Path) -> None:
    replace_table(tmp_path, "frames", frames("a.jpg"))
    [part] = (tmp_path / "frames").glob("*.parquet")
    part.write_bytes(part.read_bytes()[:100])
    with pytest.raises(StoreError, match=part.name):
        read_table(tmp_path, "frames")
    part.unlink()
    with pytest.raises(StoreError, match=part.name):
        read_table(tmp_path, "frames")


def test_a_reader_follows_a_writer_that_rewrote_the_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    replace_table(tmp_path, "frames", frames("old.jpg"))
    load, calls = datasets.load_manifest, []

    def load_then_rewrite(folder: Path | str | Place) -> Manifest:
        manifest = load(folder)
        if not calls:
            calls.append(1)
            replace_table(tmp_path, "frames", frames("new.jpg"))
        return manifest

    monkeypatch.setattr(datasets, "load_manifest", load_then_rewrite)
    assert paths(tmp_path / "frames") == ["new.jpg"]


def test_rows_that_do_not_fit_are_refused(tmp_path: Path) -> None:
    replace_table(tmp_path, "frames", frames("a.jpg"))
    with pytest.raises(StoreError, match="nothing was written"):
        replace_table(tmp_path, "frames", frames("b.jpg").drop_columns(["path"]))
    assert paths(tmp_path / "frames") == ["a.jpg"]


@pytest.mark.parametrize("what", [replace_table, lambda store, name, rows: commit(store / name, Manifest())])
def test_a_full_disk_is_a_clear_error_and_the_old_rows_stay(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: Callable[..., Any]
) -> None:
    replace_table(tmp_path, "frames", frames("a.jpg"))

    def full(_handle: int) -> NoReturn:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(StoreError, match="No space left"):
            what(tmp_path, "frames", frames("b.jpg"))
    assert paths(tmp_path / "frames") == ["a.jpg"]


def test_places_from_names() -> None:
    assert place_at("store") == FolderPlace(Path("store"))
    assert place_at("file:///tmp/store") == FolderPlace(Path("/tmp/store"))  # noqa: S108
    assert str(place_at("memory://bucket/store")).startswith("memory://")


def test_a_url_without_fsspec_names_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "fsspec", None)
    with pytest.raises(MissingExtra, match="cluster"):
        places.place_at("s3://bucket/store")


def test_a_disk_behind_a_url_gets_whole_files_by_a_rename() -> None:
    import fsspec

    memory = fsspec.filesystem("memory")
    seen: list[str] = []

    class Shared:
        """A memory store that says it is a disk."""

        protocol = ("smb",)

        def __getattr__(self, name: str) -> Any:
            seen.append(name)
            return getattr(memory, name)

    place = UrlPlace(Shared(), "/shared/store")
    place.write("a", lambda stream: stream.write(b"1"))
    assert place.read("a") == b"1"
    assert "mv" in seen
    assert place.names() == ["a"]
    place.remove("a")
    assert place.read("a") is None
    assert FolderPlace(Path("no-such-folder")).names() == []
