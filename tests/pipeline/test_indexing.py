"""The index: what it reads and what it leaves alone."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from auditor.errors import WorkspaceError
from auditor.model.tables import FRAMES
from auditor.pipeline import indexing
from auditor.pipeline.indexing import index_archives
from auditor.readers.problems import Problem, Skipped
from auditor.storage.datasets import read_table
from tests.pipeline.indexed import Archive, counts, picture, raw
from tests.readers import making


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


def test_places_come_with_a_sidecar_and_into_a_store_that_had_none(archive: Archive) -> None:
    archive.put("a.jpg", making.jpeg(making.app1(making.exposure_block(gps=making.AT_SEA))))
    archive.put("b.jpg", picture())
    archive.index()
    manifest = archive.store / "frames" / "_manifest.json"
    manifest.write_text(json.dumps(json.loads(manifest.read_text()) | {"schema_version": 1}))
    assert "what was measured is kept" in archive.index().messages[0]
    place = {path: (row["latitude_deg"], row["longitude_deg"]) for path, row in archive.rows().items()}
    assert place == {"a.jpg": (46.21, -11.62), "b.jpg": (None, None)}
    sidecar = making.xmp_packet(4).replace(
        b"<rdf:Description ",
        b'<rdf:Description xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:GPSLatitude="10,30.0S" '
        b'exif:GPSLongitude="20,0,0E" ',
    )
    archive.put("b.xmp", sidecar, 1_777_000_099)
    assert counts(archive.index()) == (2, 0, 1, 1, 0)
    row = archive.rows()["b.jpg"]
    assert (row["latitude_deg"], row["longitude_deg"], row["rating"]) == (-10.5, 20.0, 4)


def test_a_store_of_an_older_version_is_built_again_and_said(archive: Archive) -> None:
    archive.put("a.jpg", picture())
    archive.index()
    manifest = archive.store / "frames" / "_manifest.json"
    manifest.write_text(json.dumps(json.loads(manifest.read_text()) | {"schema_version": 0}))
    summary = archive.index()
    assert counts(summary) == (1, 1, 0, 0, 0)
    assert "version 0" in summary.messages[0]
    assert len(list((archive.store / "frames").glob("*.parquet"))) == 1


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
