from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.errors import StoreError
from auditor.pipeline.indexing import IndexSummary
from auditor.storage.datasets import read_table
from dashboards.jobs import Job, Standing, progress_in_words, workspace_job


def ended(job: Job) -> Standing:
    for _ in range(600):
        if not job.standing().is_running:
            return job.standing()
        time.sleep(0.05)
    raise AssertionError("the job did not end")


def test_a_job_tells_how_far_it_is_and_what_came_of_it(tmp_path: Path) -> None:
    go_on, told = threading.Event(), threading.Event()

    def index(folder: Path, progress: Callable[[int, int], None]) -> IndexSummary:
        assert folder == tmp_path
        progress(3, 10)
        told.set()
        assert go_on.wait(10)
        return IndexSummary(frames=10, new=10, seconds=2.0)

    audited: list[Path] = []
    asked: list[Path] = []
    job = workspace_job(tmp_path, index, audited.append, asked.append)
    assert job.standing().stage == "idle"
    job.start(True)
    assert told.wait(10)
    assert (job.standing().done, job.standing().total) == (3, 10)
    job.start(True)  # a second press while it runs starts nothing
    go_on.set()
    assert ended(job) == Standing("done", said="10 frames, 10 new; read in 2 s. The audit is new.")
    assert audited == asked == [tmp_path]


def test_auditing_alone_opens_no_picture(tmp_path: Path) -> None:
    audited: list[Path] = []
    job = workspace_job(tmp_path, lambda folder, progress: pytest.fail("it read"), audited.append, audited.append)
    job.start(False)
    assert ended(job).said == "The audit is new."


@pytest.mark.parametrize("error", [StoreError("the disk is full"), RuntimeError("boom")])
def test_a_failure_is_told_in_words_and_the_next_run_may_begin(tmp_path: Path, error: Exception) -> None:
    fails = [True]

    def audit(_folder: Path) -> None:
        if fails.pop() if fails else False:
            raise error

    job = workspace_job(tmp_path, audit=audit, question=lambda folder: None)
    job.start(False)
    standing = ended(job)
    assert standing.stage == "failed"
    assert str(error) in standing.said
    job.start(False)
    assert ended(job).stage == "done"


def test_a_workspace_is_really_audited(own_workspace: Path) -> None:
    before = read_table(own_workspace / "store", "audit").num_rows
    log = own_workspace / "log.csv"
    log.write_text(log.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    known = read_table(own_workspace / "store", "audit")["lens"].null_count
    job = workspace_job(own_workspace)
    job.start(False)
    assert ended(job).stage == "done"
    after = read_table(own_workspace / "store", "audit")
    assert after.num_rows == before
    assert after["lens"].null_count > known  # without a log, fewer lenses are known


@pytest.mark.parametrize(
    ("standing", "said"),
    [
        (Standing(), ""),
        (Standing("reading", 100, 10_000, since_s=0.0), "100 of 10 000 frames read, 10 a second, about 16 min left."),
        (Standing("auditing"), "Working out lens, setting and shake of each frame."),
        (Standing("asking"), "Looking for the questions whose answers settle the most."),
        (Standing("failed", said="no"), "no"),
    ],
)
def test_standing_in_words(standing: Standing, said: str) -> None:
    assert progress_in_words(standing, 10.0) == said
