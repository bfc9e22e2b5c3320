"""
Several reading processes, each fed by a thread of this one, in the order in which they come free.

A process that does not answer in time, or ends, is replaced; the frames it had are read once more one at a time, so
that the culprit is known by name and only its row says so.
"""

from __future__ import annotations

import contextlib
import pickle
import queue
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, Generic, TypeVar, cast

from auditor.readers.frames import failed
from auditor.readers.problems import Problem
from auditor.readers.worker import Columns, Task, as_columns

__all__ = ["Limits", "read_guarded", "read_in_processes"]

Label = TypeVar("Label")

_PACKAGES = str(Path(__file__).resolve().parents[2])
_PROGRAM = "import sys; sys.path.insert(0, sys.argv[1]); from auditor.readers.worker import serve; serve()"


@dataclass(frozen=True)
class Limits:
    """
    How long a process may take before it is given up.

    Attributes
    ----------
    task_s : float
        For a whole task. [s]
    frame_s : float
        For one frame read alone. [s]
    """

    task_s: float = 120.0
    frame_s: float = 20.0


class _Gone(Exception):
    """The process ended or was ended; says why."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(problem)


class _Stopped(Exception):
    """Nobody waits for an answer any more."""


class _Process:
    """
    One reading process.

    Parameters
    ----------
    stop : threading.Event
        When set, no other process takes this one's place.
    """

    def __init__(self, stop: threading.Event) -> None:
        self._stop = stop
        self._process = subprocess.Popen(  # noqa: S603  (our own interpreter and module)
            [sys.executable, "-c", _PROGRAM, _PACKAGES], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        self._stdin = cast("IO[bytes]", self._process.stdin)
        self._stdout = cast("IO[bytes]", self._process.stdout)

    def read(self, task: Task, limit_s: float) -> Columns:
        """Have a task read; raise `_Gone` when no answer comes in time or the process ends."""
        timed_out = threading.Event()

        def give_up() -> None:
            timed_out.set()
            self._process.kill()

        timer = threading.Timer(limit_s, give_up)
        timer.daemon = True
        timer.start()
        try:
            pickle.dump((task.root, list(task.frames)), self._stdin, pickle.HIGHEST_PROTOCOL)
            self._stdin.flush()
            answer: Columns = pickle.load(self._stdout)  # noqa: S301  (from the process that this one started)
        except (OSError, EOFError, pickle.UnpicklingError, ValueError, IndexError) as ended:
            self.end()
            raise _Gone(Problem.TOO_SLOW if timed_out.is_set() else Problem.READER_DIED) from ended
        finally:
            timer.cancel()
        return answer

    def successor(self) -> _Process:
        """Start the process that takes the place of this one; raise `_Stopped` when none is wanted."""
        if self._stop.is_set():
            raise _Stopped
        return _Process(self._stop)

    def kill(self) -> None:
        """End the process at once, from another thread than the one that reads its answers."""
        self._process.kill()

    def end(self) -> None:
        """End the process at once and give its pipes back."""
        self._process.kill()
        for stream in (self._stdin, self._stdout):
            with contextlib.suppress(OSError):
                stream.close()
        self._process.wait()


@dataclass
class _Feed(Generic[Label]):
    """What the threads share: tasks still to be read, answers, and whether to stop."""

    tasks: Iterator[tuple[Label, Task]]
    limits: Limits
    answers: queue.Queue[tuple[Label, Columns] | BaseException | None]
    turn: threading.Lock = field(default_factory=threading.Lock)
    stop: threading.Event = field(default_factory=threading.Event)
    reading: dict[int, _Process] = field(default_factory=dict)

    def next(self) -> tuple[Label, Task] | None:
        with self.turn:
            return None if self.stop.is_set() else next(self.tasks, None)

    def put(self, answer: tuple[Label, Columns] | BaseException | None) -> None:
        while not self.stop.is_set():
            with contextlib.suppress(queue.Full):
                self.answers.put(answer, timeout=0.2)
                return


def _one_by_one(process: _Process, task: Task, limits: Limits) -> tuple[_Process, Columns]:
    """Read the frames of a task that did not end well, each alone; replace the process when it must be."""
    found: list[list[Any]] | None = None
    for frame in task.frames:
        try:
            columns = process.read(Task(task.root, [frame]), limits.frame_s)
        except _Gone as gone:
            process = process.successor()
            columns = as_columns([failed(frame.file, gone.problem)])
        if found is None:
            found = [list(column) for column in columns]
        else:
            for column, more in zip(found, columns, strict=True):
                column.extend(more)
    return process, tuple(found or as_columns([]))


def _read(process: _Process, task: Task, limits: Limits) -> tuple[_Process, Columns]:
    """Read a task, frame by frame where it does not end well; the process may be another one afterwards."""
    try:
        return process, process.read(task, limits.task_s)
    except _Gone:
        return _one_by_one(process.successor(), task, limits)


_own = threading.local()


def read_guarded(task: Task, limits: Limits | None = None) -> Columns:
    """Read a task in the process that belongs to this thread, started when there is none; for a cluster's workers."""
    process = getattr(_own, "process", None) or _Process(threading.Event())
    _own.process, columns = _read(process, task, limits or Limits())
    return columns


def _keep_feeding(feed: _Feed[Any]) -> None:
    process = _Process(feed.stop)
    try:
        while (next_task := feed.next()) is not None:
            feed.reading[threading.get_ident()] = process
            label, task = next_task
            process, columns = _read(process, task, feed.limits)
            feed.put((label, columns))
    except _Stopped:
        pass
    except BaseException as error:
        feed.put(error)
    finally:
        process.end()
        feed.put(None)


def read_in_processes(
    tasks: Iterator[tuple[Label, Task]], jobs: int, limits: Limits | None = None
) -> Iterator[tuple[Label, Columns]]:
    """
    Read tasks in several processes.

    Parameters
    ----------
    tasks : iterator of (label, Task)
        Taken one by one as processes come free; the label comes back with the answer.
    jobs : int
        How many processes.
    limits : Limits, optional
        Time limits.

    Yields
    ------
    (label, Columns)
        In the order in which they are done.
    """
    feed: _Feed[Label] = _Feed(tasks, limits or Limits(), queue.Queue(maxsize=8 * jobs))
    threads = [threading.Thread(target=_keep_feeding, args=(feed,), daemon=True) for _ in range(jobs)]
    for thread in threads:
        thread.start()
    running = jobs
    try:
        while running:
            answer = feed.answers.get()
            if answer is None:
                running -= 1
            elif isinstance(answer, BaseException):
                raise answer
            else:
                yield answer
    finally:
        feed.stop.set()
        for process in list(feed.reading.values()):
            process.kill()
        for thread in threads:
            thread.join(timeout=5)
