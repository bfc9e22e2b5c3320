"""One file in, its measures out: the work of a measuring process."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from auditor.model.looks import METHOD
from auditor.pipeline.cluster import connected
from auditor.readers.pixels import Pixels, Undecodable, read_pixels
from auditor.readers.problems import Problem

__all__ = ["OverlapTask", "PixelFile", "look_at", "overlaps_of", "work_through"]

Task = TypeVar("Task")
Answer = TypeVar("Answer")

_LARGE_PX = 120_000_000
_LEAST_SIDE_PX = 16  # at half size; nothing below is a photograph, and no measure has room in it


class PixelFile(NamedTuple):
    """A file to measure: its key, where it lies, its format, and what tells that it changed."""

    archive: str
    path: str
    place: str
    format: str
    size: int
    mtime_ns: int
    pixels: int


class OverlapTask(NamedTuple):
    """Pairs of files to compare, with a guess for each first one's focal length over the sensor's long side."""

    pairs: tuple[tuple[PixelFile, PixelFile, float], ...]


def look_at(file: PixelFile) -> dict[str, Any]:
    """
    Measure one file.

    Returns
    -------
    dict
        A row of the looks table; with ``problem`` and nothing else when it cannot be decoded or measured.
    """
    row: dict[str, Any] = {
        "archive": file.archive,
        "path": file.path,
        "size": file.size,
        "mtime_ns": file.mtime_ns,
        "method": METHOD,
    }
    try:
        row.update(_measured(file))
    except Undecodable as why:
        row.update(problem=str(why), blur_kind="unknown")
    except MemoryError:
        row.update(problem="the picture is too large for this computer's memory", blur_kind="unknown")
    except Exception:  # a bug of ours, or of a library, on one picture must not cost the others
        row.update(problem=Problem.NOT_UNDERSTOOD.value, blur_kind="unknown")
    return row


def _measured(file: PixelFile) -> dict[str, Any]:
    from auditor.vision.frame import first_look, measure, needs_second_look, second_look
    from auditor.vision.likeness import small_picture

    finest = 1 if file.pixels <= _LARGE_PX else 2
    half = read_pixels(Path(file.place), file.format, reduced=2 * finest)
    if min(half.grey.shape) < _LEAST_SIDE_PX:
        raise Undecodable("the picture is too small to be measured")
    first = first_look(half.grey, _scale(file, half))
    second = None
    if needs_second_look(first):
        full = read_pixels(Path(file.place), file.format, reduced=finest)
        second = second_look(full.grey, _scale(file, full), first)
    found = measure(first, second)
    small = small_picture(half.grey)
    return {
        "edge_width_px": found.edge_width_px,
        "sharp_fraction": found.sharp_fraction,
        "blur_kind": found.kind,
        "blur_confidence": found.confidence,
        "shake_direction_deg": found.direction_deg,
        "shake_length_px": found.length_px,
        "raw_edges": found.raw_edges,
        "raw_gradients": _raw_gradients(half.grey),
        "small_picture": small.tobytes(),
        "small_width_px": small.shape[1],
        "looked_twice": second is not None,
    }


def _scale(file: PixelFile, pixels: Pixels) -> float:
    """Return pixels of the full picture in one that was decoded; a preview may be smaller than what the index knows."""
    return max(pixels.scale, float((file.pixels / pixels.grey.size) ** 0.5)) if file.format != "jpeg" else pixels.scale


def _raw_gradients(half: NDArray[np.uint8]) -> float:
    """Return the root of the noise-corrected Tenengrad at quarter size, in grey levels."""
    import cv2

    from auditor.vision.yardsticks import noise_spread, tenengrad

    rows, columns = (max(1, side // 2) for side in half.shape)
    whole = half[: 2 * rows, : 2 * columns]
    quarter = np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA), np.uint8)
    return float(tenengrad(quarter, noise_spread(quarter)) ** 0.5)


def overlaps_of(task: OverlapTask) -> list[dict[str, Any]]:
    """
    Compare the focal lengths of pairs of files; each file is decoded once.

    Returns
    -------
    list of dict
        Rows of the overlaps table, one a pair.
    """
    from auditor.vision.focal_ratio import focal_ratio
    from auditor.vision.landmarks import LONG_SIDE_PX, landmarks

    seen: dict[str, Any] = {}

    def seen_in(file: PixelFile) -> Any:
        if file.place not in seen:
            reduced = next((step for step in (8, 4, 2) if file.pixels / step**2 >= LONG_SIDE_PX**2), 1)
            pixels: Pixels = read_pixels(Path(file.place), file.format, reduced=reduced)
            seen[file.place] = landmarks(pixels.grey)
        return seen[file.place]

    rows = []
    for first, second, guess in task.pairs:
        row: dict[str, Any] = {"archive": first.archive, "path_a": first.path, "path_b": second.path}
        try:
            found = focal_ratio(seen_in(first), seen_in(second), guess)
        except Undecodable as why:
            row.update(overlap_verdict="unknown", problem=str(why))
        except Exception:  # as for a single frame
            row.update(overlap_verdict="unknown", problem=Problem.NOT_UNDERSTOOD.value)
        else:
            row.update(
                focal_ratio=found.ratio,
                focal_ratio_low=found.low,
                focal_ratio_high=found.high,
                overlap_verdict=found.verdict,
                problem=found.reason or None,
            )
        rows.append(row)
    return rows


def _quiet_worker() -> None:
    # Ctrl-C reaches every process; this program's first one decides what it means. One core a process.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    one_thread()


def one_thread() -> None:
    """Keep OpenCV from using more than this process's share."""
    import cv2

    cv2.setNumThreads(1)


def work_through(
    work: Callable[[Task], Answer],
    tasks: Sequence[Task],
    failed: Callable[[Task, str], Answer],
    *,
    jobs: int | None = None,
    cluster: str | None = None,
) -> Iterator[Answer]:
    """
    Do tasks in several processes, or on a cluster, and yield the answers as they come.

    A process that ends (a decoder that crashes on a damaged file) is replaced; what it had is done once more one at a
    time, and the culprit's answer is what `failed` makes of it.
    """
    if cluster is not None:
        yield from _on_cluster(work, tasks, cluster)
    elif (jobs or os.cpu_count() or 1) == 1 or len(tasks) <= _FEW_TASKS:
        one_thread()
        yield from map(work, tasks)
    else:
        yield from _in_processes(work, tasks, failed, jobs or os.cpu_count() or 1)


_FEW_TASKS = 3


def _pool(jobs: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=_quiet_worker)


def _in_processes(
    work: Callable[[Task], Answer], tasks: Sequence[Task], failed: Callable[[Task, str], Answer], jobs: int
) -> Iterator[Answer]:
    waiting, suspects = iter(tasks), []
    pool = _pool(jobs)
    running: dict[Future[Answer], Task] = {}
    try:
        while True:
            try:
                for task in _next(waiting, 3 * jobs - len(running)):
                    running[pool.submit(work, task)] = task
            except BrokenProcessPool:
                suspects.append(task)
            if not running:
                break
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            broken = False
            for future in done:
                task = running.pop(future)
                if isinstance(future.exception(), BrokenProcessPool):
                    suspects.append(task)
                    broken = True
                else:
                    yield future.result()
            if broken:
                suspects.extend(running.values())
                running.clear()
                pool.shutdown(wait=False, cancel_futures=True)
                pool = _pool(jobs)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
    yield from _one_by_one(work, suspects, failed)


def _next(tasks: Iterator[Task], count: int) -> Iterator[Task]:
    for _, task in zip(range(count), tasks, strict=False):
        yield task


def _one_by_one(
    work: Callable[[Task], Answer], tasks: Iterable[Task], failed: Callable[[Task, str], Answer]
) -> Iterator[Answer]:
    """Do tasks one by one in a process that may end without harm to the others."""
    pool: ProcessPoolExecutor | None = None
    for task in tasks:
        pool = pool or _pool(1)
        try:
            answer = pool.submit(work, task).result()
        except BrokenProcessPool:
            pool, answer = None, failed(task, Problem.READER_DIED.value)
        yield answer
    if pool is not None:
        pool.shutdown()


def _on_cluster(work: Callable[[Task], Answer], tasks: Sequence[Task], address: str) -> Iterator[Answer]:
    """Do tasks on a Dask cluster whose workers see the archives under the same names."""
    distributed, client = connected(address)
    with client:
        for start in range(0, len(tasks), _CLUSTER_TASKS):
            futures = client.map(work, tasks[start : start + _CLUSTER_TASKS], pure=False)
            for _, answer in distributed.as_completed(futures, loop=client.loop, with_results=True):
                yield answer


_CLUSTER_TASKS = 1000
