"""The same rows from a real cluster of processes on this computer, also when a worker dies."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from auditor.errors import InputError, MissingExtra
from auditor.pipeline import cluster as on_cluster
from auditor.pipeline import indexing
from auditor.pipeline.indexing import index_archives
from auditor.readers.frames import File, Frame
from auditor.readers.problems import Problem
from auditor.readers.worker import Task
from auditor.storage.datasets import read_table
from tests.pipeline.killing import make_archive

distributed: Any = pytest.importorskip("distributed")

pytestmark = pytest.mark.filterwarnings("ignore")  # the cluster's own, on being taken down


@pytest.fixture(scope="module")
def local_cluster() -> Iterator[Any]:
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
        ) as cluster,
        distributed.Client(cluster, set_as_default=False) as client,
    ):
        yield client


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("cluster") / "archive"
    make_archive(root, 900)
    return root


def test_a_cluster_gives_the_rows_of_the_local_run(local_cluster: Any, archive: Path, tmp_path: Path) -> None:
    index_archives({"main": archive}, tmp_path / "local", jobs=1)
    summary = index_archives({"main": archive}, tmp_path / "far", cluster=local_cluster.scheduler.address)
    assert (summary.frames, summary.new) == (900, 900)
    local, far = (read_table(tmp_path / name, "frames").sort_by("path") for name in ("local", "far"))
    assert far.equals(local)


def test_a_worker_that_dies_is_replaced(
    local_cluster: Any, archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(indexing, "_TASK_FRAMES", 10)
    [process, *_] = local_cluster.run(os.getpid).values()
    killed = threading.Event()

    def kill_one(done: int, total: int) -> None:
        if total and done > 50 and not killed.is_set():
            killed.set()
            os.kill(process, signal.SIGKILL)

    summary = index_archives(
        {"main": archive}, tmp_path / "far", cluster=local_cluster.scheduler.address, progress=kill_one
    )
    assert killed.is_set()
    assert (summary.frames, summary.unreadable) == (900, 0)


class Lost:
    """A future whose workers all died."""

    def result(self) -> None:
        raise distributed.KilledWorker("task", None, 3)

    def release(self) -> None: ...


def test_a_task_that_ends_every_worker_costs_its_rows_only(monkeypatch: pytest.MonkeyPatch) -> None:
    lost = Lost()

    class Client:
        loop = None

        def __init__(self, *_args: Any, **_options: Any) -> None: ...
        def __enter__(self) -> Client:
            return self

        def __exit__(self, *_error: object) -> None: ...
        def nthreads(self) -> dict[str, int]:
            return {"worker": 1}

        def submit(self, *_args: Any, **_options: Any) -> Lost:
            return lost

    class Done(list[Any]):
        add = list.append

    monkeypatch.setattr(distributed, "Client", Client)
    monkeypatch.setattr(distributed, "as_completed", lambda loop: Done())
    task = Task("/nowhere", [Frame(File("a.jpg", 1, 2)), Frame(File("b.jpg", 3, 4))])
    [(label, columns)] = on_cluster.read_on_cluster(iter([("label", task)]), "tcp://anywhere:1")
    assert label == "label"
    assert (columns[0], set(columns[-1])) == (["a.jpg", "b.jpg"], {Problem.READER_DIED.value})


def test_no_scheduler_and_no_extra_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_args: Any, **_options: Any) -> None:
        raise OSError("timed out")

    with monkeypatch.context() as patched:
        patched.setattr(distributed, "Client", refuse)
        with pytest.raises(InputError, match="tcp://nobody:1"):
            list(on_cluster.read_on_cluster(iter([]), "tcp://nobody:1"))
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(MissingExtra, match="cluster"):
        list(on_cluster.read_on_cluster(iter([]), "tcp://nobody:1"))
