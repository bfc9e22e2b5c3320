"""The same reading on a Dask cluster whose workers see the archives under the same names."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from typing import Any, TypeVar

from auditor.errors import InputError, MissingExtra
from auditor.readers.frames import failed
from auditor.readers.pool import read_guarded
from auditor.readers.problems import Problem
from auditor.readers.worker import Columns, Task, as_columns

__all__ = ["connected", "read_on_cluster"]

Label = TypeVar("Label")

_TASKS_PER_THREAD = 3
_RETRIES = 3


def connected(address: str) -> tuple[Any, Any]:
    """
    Return the cluster's library and a client of the scheduler at an address.

    Raises
    ------
    MissingExtra
        distributed is not installed.
    InputError
        No scheduler answers there.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError as missing:
        raise MissingExtra("--cluster needs the extra, pip install 'steadykeep[cluster]'") from missing
    try:
        return distributed, distributed.Client(address, set_as_default=False, timeout="30s")
    except (OSError, ValueError) as refused:
        raise InputError(f"no Dask scheduler answers at {address} ({refused})") from refused


def _lost(task: Task) -> Columns:
    return as_columns([failed(frame.file, Problem.READER_DIED) for frame in task.frames])


def read_on_cluster(tasks: Iterator[tuple[Label, Task]], address: str) -> Iterator[tuple[Label, Columns]]:
    """
    Read tasks on a cluster.

    A task whose worker dies goes to another worker; each worker reads in a process of its own beside it, under the
    same limits as on one computer, so that a file that hangs or ends it costs its row and no more.

    Parameters
    ----------
    tasks : iterator of (label, Task)
        A few for each of the cluster's threads are under way at a time; the label comes back with the answer.
    address : str
        The scheduler's, such as ``tcp://scheduler:8786``.

    Yields
    ------
    (label, Columns)
        In the order in which they are done.

    Raises
    ------
    MissingExtra, InputError
        As ``connected``.
    """
    distributed, client = connected(address)
    with client:
        under_way = {}
        done = distributed.as_completed(loop=client.loop)

        def submit() -> None:
            following = next(tasks, None)
            if following is not None:
                future = client.submit(read_guarded, following[1], pure=False, retries=_RETRIES)
                under_way[future] = following
                done.add(future)

        for _ in range(_TASKS_PER_THREAD * max(1, sum(client.nthreads().values()))):
            submit()
        for future in done:
            label, task = under_way.pop(future)
            submit()
            try:
                yield label, future.result()
            except distributed.KilledWorker:
                yield label, _lost(task)
            future.release()
