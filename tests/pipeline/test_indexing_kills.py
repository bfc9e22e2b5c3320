"""A kill at any moment leaves the last committed store."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from auditor.pipeline.indexing import index_archives
from auditor.storage.datasets import load_manifest
from tests.pipeline.killing import committed, kill_often


@pytest.mark.skipif(sys.platform == "win32", reason="kills a process group")
def test_kills_at_random_moments_lose_nothing_that_was_committed(tmp_path: Path) -> None:
    seen = kill_often(tmp_path, kills=8, seed=20260502, frames=800)
    assert seen["rows lost"] == 0
    assert seen["before they were done"] >= 2
    assert seen["between two commits"] >= 1, "else nothing was tried"
    root, store = tmp_path / "archive", tmp_path / "store"
    summary = index_archives({"main": root}, store)
    assert summary.frames == len(committed(store)) == 800
    named = {part.file for part in load_manifest(store / "frames").parts}
    assert {file.name for file in (store / "frames").glob("*.parquet")} == named, "nothing is left lying about"
