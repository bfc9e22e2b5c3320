"""The small sister of the benchmark in tests/benchmarks/records: a dozen kills instead of two hundred."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.benchmarks.records.kills import run


@pytest.mark.skipif(os.name == "nt", reason="processes are not forked on this system")
def test_a_kill_at_any_moment_leaves_each_sidecar_whole_and_undoable(tmp_path: Path) -> None:
    found = run(tmp_path, kills=8, sidecars=80)
    assert found.kills == 8
    assert (found.torn, found.left_at_end) == (0, 0)
