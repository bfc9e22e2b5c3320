"""Frames that moved keep what was computed about them."""

from __future__ import annotations

import pyarrow as pa

from auditor.model.tables import MEASURES, OVERLAPS
from auditor.storage.datasets import read_table, replace_table
from tests.pipeline.indexed import Archive, counts, picture


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
