"""The index: reads what is new or changed in the archives into ``store/frames``, and nothing else."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeAlias

import pyarrow.compute as pc

from auditor.model.tables import FRAMES
from auditor.pipeline.changes import Plan, ToRead, look_through
from auditor.pipeline.folder_states import folder_notes
from auditor.pipeline.index_writer import Writer
from auditor.pipeline.moves import Moves, follow, rows_at
from auditor.readers.pool import read_in_processes
from auditor.readers.problems import Problem, Skipped
from auditor.readers.worker import Columns, Task, read_task
from auditor.storage.compaction import compacted
from auditor.storage.datasets import (
    Manifest,
    OutdatedStore,
    commit,
    load_manifest,
    new_notes_name,
    read,
    remove_unnamed,
)
from auditor.storage.lock import locked
from auditor.storage.places import Place, place_at

__all__ = ["IndexSummary", "Progress", "index_archives"]

Progress: TypeAlias = Callable[[int, int], None]
"""Told how many frames are done and of how many; while the archive is walked, 0 of what was found so far."""

_TASK_FRAMES = 256
_FEW_FRAMES = 256
_GIVEN_UP = (Problem.TOO_SLOW.value, Problem.READER_DIED.value, Problem.NOT_UNDERSTOOD.value)


@dataclass
class IndexSummary:
    """
    What an index run found and did.

    Attributes
    ----------
    frames : int
        Rows of the frames table after the run.
    new, changed, unchanged, gone : int
        Frames that had no row; that were read again; that were not opened; whose files are no longer there.
    moved : int
        Of the new and gone: one frame under another path.
    unreadable : int
        Frames of which nothing, or only a part, could be read, in the whole table.
    seconds : float
        How long the run took. [s]
    problems, skipped : dict
        Unreadable frames by reason; what is not a frame, by reason.
    given_up : tuple of str
        Archive and path of files that hung or ended a reading process in this run.
    messages : tuple of str
        What the user should know: a store that was built again, a lock that was taken over.
    """

    frames: int = 0
    new: int = 0
    changed: int = 0
    unchanged: int = 0
    gone: int = 0
    moved: int = 0
    unreadable: int = 0
    seconds: float = 0.0
    problems: dict[str, int] = field(default_factory=dict)
    skipped: dict[str, int] = field(default_factory=dict)
    given_up: tuple[str, ...] = ()
    messages: tuple[str, ...] = ()

    @property
    def read_per_second(self) -> float:
        """Frames read in this run, per second of it."""
        return (self.new + self.changed) / self.seconds if self.seconds else 0.0


def _tasks(plan: Plan, archives: Mapping[str, str]) -> Iterator[tuple[list[ToRead], Task]]:
    """Yield the plan's frames in tasks of one archive each."""
    waiting: list[ToRead] = []
    for one in plan.frames():
        if waiting and (len(waiting) >= _TASK_FRAMES or one.archive != waiting[0].archive):
            yield waiting, Task(archives[waiting[0].archive], [item.frame for item in waiting])
            waiting = []
        waiting.append(one)
    if waiting:
        yield waiting, Task(archives[waiting[0].archive], [item.frame for item in waiting])


def _answers(
    plan: Plan, archives: Mapping[str, str], jobs: int | None, cluster: str | None
) -> Iterator[tuple[list[ToRead], Columns]]:
    tasks = _tasks(plan, archives)
    if cluster is not None:
        from auditor.pipeline.cluster import read_on_cluster

        yield from read_on_cluster(tasks, cluster)
    elif plan.count <= _FEW_FRAMES:  # a process would take longer to start
        for items, task in tasks:
            yield items, read_task(task)
    else:
        yield from read_in_processes(tasks, jobs or os.cpu_count() or 1)


def _count(summary: IndexSummary, plan: Plan, items: list[ToRead], columns: Columns) -> None:
    """Add to the summary what a task's answer says, and to the plan which doubtful files are no pictures."""
    paths = set(columns[0])
    had_rows = {item.frame.file.path for item in items if item.replaces}
    changed = len(paths & had_rows)
    summary.changed += changed
    summary.new += len(paths) - changed
    summary.gone += sum(len(item.replaces) for item in items) - changed
    for item in items:
        path = item.frame.file.path
        if item.frame.is_doubtful and path not in paths:
            plan.folders[item.archive, path[: path.rfind("/") + 1]].no_pictures += 1
            plan.skipped[Skipped.NOT_A_PICTURE.value] += 1
    problems = columns[-1]
    given_up = [path for path, problem in zip(columns[0], problems, strict=True) if problem in _GIVEN_UP]
    summary.given_up += tuple(f"{items[0].archive}: {path}" for path in given_up)


def _read(
    plan: Plan,
    answers: Iterator[tuple[list[ToRead], Columns]],
    writer: Writer,
    summary: IndexSummary,
    moves: Moves,
    progress: Progress,
) -> Manifest:
    """Have the plan's frames read and written; what was read is committed whatever ends the reading."""
    done = 0
    try:
        for items, columns in answers:
            writer.add(items[0].archive, columns, (position for item in items for position in item.replaces))
            _count(summary, plan, items, columns)
            moves.note_read(items[0].archive, columns)
            done += len(items)
            progress(done, plan.count)
    finally:
        manifest = writer.finish()
    return manifest


def _finish(place: Place, manifest: Manifest, plan: Plan) -> Manifest:
    """Drop the rows of files that are gone, make few parts of many, and note what the folders look like."""
    manifest = compacted(place, manifest.dropping(plan.gone), FRAMES)
    name = new_notes_name()
    content = folder_notes(plan.folders)
    place.write(name, lambda stream: stream.write(content))
    manifest = replace(manifest, notes=name)
    commit(place, manifest)
    remove_unnamed(place, manifest)
    return manifest


def _problems(place: Place) -> dict[str, int]:
    counts = pc.value_counts(read(place, FRAMES, ["problem"]).column("problem").combine_chunks())
    found = {entry["values"]: entry["counts"] for entry in counts.to_pylist() if entry["values"] is not None}
    return dict(sorted(found.items(), key=lambda item: (-item[1], item[0])))


def _index(
    archives: Mapping[str, str],
    store: Place,
    summary: IndexSummary,
    reading: tuple[int | None, str | None],
    progress: Progress,
) -> None:
    place = store.within("frames")
    try:
        manifest = load_manifest(place)
    except OutdatedStore as outdated:
        text = f"the index was written by another version of the program (table version {outdated.found})"
        summary.messages += (f"{text}; every frame is read again, what was measured is kept",)
        manifest = Manifest()
    plan = look_through(archives, place, manifest, lambda found: progress(0, found))
    with plan.to_read:
        committed, moves = _carry_out(plan, archives, (place, manifest), summary, reading, progress)
    moved = moves.found()
    if moved:
        follow(store, moved)
    summary.moved = len(moved)
    summary.frames = committed.rows
    summary.unchanged = summary.frames - summary.new - summary.changed
    summary.problems = _problems(place)
    summary.unreadable = sum(summary.problems.values())
    summary.skipped = {reason: count for reason, count in sorted(plan.skipped.items()) if count}


def _carry_out(
    plan: Plan,
    archives: Mapping[str, str],
    dataset: tuple[Place, Manifest],
    summary: IndexSummary,
    reading: tuple[int | None, str | None],
    progress: Progress,
) -> tuple[Manifest, Moves]:
    """Read what the plan says and drop what it says; return what was committed, and what may have moved."""
    place, manifest = dataset
    moves = Moves()
    for rows in rows_at(place, manifest, plan.gone):
        moves.note_gone(rows)
        summary.gone += rows.num_rows
    committed = manifest
    if plan.count:
        writer = Writer(place, manifest)
        committed = _read(plan, _answers(plan, archives, *reading), writer, summary, moves, progress)
    if committed != manifest or plan.gone or manifest.notes is None or plan.is_news:
        committed = _finish(place, committed, plan)
    return committed, moves


def index_archives(
    archives: Mapping[str, Path | str],
    store: Path | str,
    *,
    jobs: int | None = None,
    progress: Progress | None = None,
    cluster: str | None = None,
) -> IndexSummary:
    """
    Read what is new or changed in some archives into a store.

    The archives are only read. Ctrl-C keeps what was read: it is committed before the interruption goes on.

    Parameters
    ----------
    archives : mapping
        Folder or fsspec URL of each archive, by its name.
    store : Path or str
        Folder or fsspec URL of the store; made when it is not there.
    jobs : int, optional
        Processes that read; as many as there are processors.
    progress : callable, optional
        See `Progress`.
    cluster : str, optional
        Address of a Dask scheduler whose workers see the archives under the same names and do the reading.

    Raises
    ------
    WorkspaceError
        An archive's folder cannot be read, or is empty although frames of it are known.
    StoreLocked
        Another process writes to the store.
    StoreError
        The store cannot be read or written; what was committed still counts.
    MissingExtra
        A cluster or a URL is named and the extra is not installed.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     (Path(folder) / "archive").mkdir()
    ...     summary = index_archives({"main": Path(folder) / "archive"}, Path(folder) / "store")
    >>> summary.frames, summary.unreadable
    (0, 0)
    """
    started_s = time.monotonic()
    summary = IndexSummary()
    folders = {name: str(folder) for name, folder in archives.items()}
    place = place_at(store)
    with locked(place) as left_behind:
        if left_behind is not None:
            who, since = left_behind.get("holder"), left_behind.get("since")
            message = f"an index run of {who} since {since} was stopped before it was done; what it committed is kept"
            summary.messages += (message,)
        _index(folders, place, summary, (jobs, cluster), progress or (lambda done, total: None))
    summary.seconds = time.monotonic() - started_s
    return summary
