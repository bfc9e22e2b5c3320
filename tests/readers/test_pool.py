"""Reading processes: order, limits, culprits by name, and an end at once."""

from __future__ import annotations

import io
import os
import pickle
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.readers import pool
from auditor.readers.frames import File, Frame
from auditor.readers.pool import Limits, read_guarded, read_in_processes
from auditor.readers.problems import Problem
from auditor.readers.records import Record
from auditor.readers.worker import Task, as_columns, read_task, serve
from tests.readers import making

# A reading process in which some names hang, end the process, or eat its answer.
TRAPPED = """
import os, sys, time
sys.path.insert(0, sys.argv[1])
from auditor.readers import worker
real = worker.read_frame
def read_frame(root, frame):
    if "hang" in frame.file.path: time.sleep(60)
    if "die" in frame.file.path: os._exit(7)
    if "stammer" in frame.file.path: os.write(1, b"not a pickle"); os._exit(0)
    return real(root, frame)
worker.read_frame = read_frame
worker.serve()
"""


def archive(folder: Path, *names: str) -> Task:
    for name in names:
        (folder / name).write_bytes(making.jpeg(making.app1(making.exposure_block())))
    return Task(str(folder), [Frame(File(name, 1, 2)) for name in names])


@pytest.fixture
def trapped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pool, "_PROGRAM", TRAPPED)


@pytest.mark.usefixtures("trapped")
@pytest.mark.parametrize(
    ("name", "problem"),
    [("hang.jpg", Problem.TOO_SLOW), ("die.jpg", Problem.READER_DIED), ("stammer.jpg", Problem.READER_DIED)],
)
def test_only_the_culprits_row_says_so(tmp_path: Path, name: str, problem: Problem) -> None:
    task = archive(tmp_path, "a.jpg", name, "z.jpg")
    limits = Limits(task_s=1.5, frame_s=1.5)
    [(label, columns)] = read_in_processes(iter([("first", task)]), 1, limits)
    assert label == "first"
    rows = [Record(*values) for values in zip(*columns, strict=True)]
    assert [(row.path, row.problem) for row in rows] == [("a.jpg", None), (name, problem.value), ("z.jpg", None)]
    assert rows[1].size == 1, "what the walk saw"
    assert [row.model for row in rows] == ["Silverline 2", None, "Silverline 2"]


def test_several_processes_read_every_task_once(tmp_path: Path) -> None:
    task = archive(tmp_path, "a.jpg", "b.jpg")
    answers = list(read_in_processes(((number, task) for number in range(25)), 3))
    assert sorted(label for label, _ in answers) == list(range(25))
    assert all(columns == read_task(task) for _, columns in answers)


@pytest.mark.usefixtures("trapped")
def test_who_stops_listening_does_not_wait_for_a_task(tmp_path: Path) -> None:
    tasks = iter(
        [(0, archive(tmp_path, "a.jpg")), (1, archive(tmp_path, "hang.jpg")), (2, archive(tmp_path, "hang.jpg"))]
    )
    answers = read_in_processes(tasks, 2)
    next(answers)
    started = time.monotonic()
    answers.close()  # type: ignore[attr-defined]
    assert time.monotonic() - started < 4


def test_an_error_of_whoever_gives_the_tasks_reaches_whoever_waits() -> None:
    def tasks() -> Iterator[tuple[int, Task]]:
        raise LookupError("no such archive")
        yield 0, Task("", [])

    with pytest.raises(LookupError, match="no such archive"):
        list(read_in_processes(tasks(), 2))


def test_a_thread_keeps_its_process(tmp_path: Path) -> None:
    task = archive(tmp_path, "a.jpg")
    assert read_guarded(task) == read_guarded(task) == read_task(task)
    process = pool._own.process
    read_guarded(task)
    assert pool._own.process is process
    process.end()
    del pool._own.process


def test_the_loop_of_a_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    task = archive(tmp_path, "a.jpg", "b.jpg")
    requests = io.BytesIO(pickle.dumps((task.root, task.frames)) * 2)
    answers = io.BytesIO()
    serve(requests, answers)
    answers.seek(0)
    assert pickle.load(answers) == pickle.load(answers) == read_task(task)  # noqa: S301


def test_equal_words_cross_as_one() -> None:
    rows = [Record(f"{number}.jpg", 1, 2, make="".join(["Silver", "line"])) for number in range(3)]
    columns = as_columns(rows)
    assert len({id(make) for make in columns[5]}) == 1
    assert as_columns([]) == tuple([] for _ in Record._fields)


@pytest.mark.skipif(sys.platform == "win32", reason="no pipes by name")
@pytest.mark.parametrize("kind", ["pipe", "device", "folder", "nothing"])
def test_what_took_a_pictures_place_since_the_walk(tmp_path: Path, kind: str) -> None:
    file = tmp_path / "a.jpg"
    if kind == "pipe":
        os.mkfifo(file)
    elif kind == "device":
        file.symlink_to("/dev/zero")
    elif kind == "folder":
        file.mkdir()
    [row] = [
        Record(*values) for values in zip(*read_task(Task(str(tmp_path), [Frame(File("a.jpg", 5, 6))])), strict=True)
    ]
    expected = {Problem.NOT_A_PICTURE, Problem.NOT_READABLE, Problem.VANISHED}
    assert row.problem in {problem.value for problem in expected}
