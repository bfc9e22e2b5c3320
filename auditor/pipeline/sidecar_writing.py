"""Write sidecars and put back what was there before; at every moment each of them is whole, old or new."""

from __future__ import annotations

import contextlib
import itertools
import os
import re
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from auditor.corrections.journal import Entry, Spot, digest_of, put_back
from auditor.corrections.packet import UnfitPacket
from auditor.model.workspace import Workspace
from auditor.pipeline.recording import Change, Progress, plan_sidecars
from auditor.pipeline.sidecar_files import MIRROR, read_sidecar, sidecar_at
from auditor.pipeline.sidecar_journal import Journal, journal_folder, read_journal, rewrite_journal
from auditor.pipeline.sidecar_showing import Shown, show_sidecars
from auditor.storage.atomic import TEMPORARY_PREFIX, flush_folder
from auditor.storage.lock import locked

__all__ = ["PutBack", "undo_sidecars", "write_sidecars"]

_AT_ONCE = 64
"""Sidecars between two waits for the journal's disk."""

_UNFINISHED = re.compile(re.escape(TEMPORARY_PREFIX) + "[0-9a-f]{32}")


class _ChangedMeanwhile(Exception):
    """Another program wrote the sidecar while we did."""


@dataclass(frozen=True)
class PutBack:
    """
    What undoing did, as counts of sidecars.

    Attributes
    ----------
    put_back, removed, as_they_were : int
        Put back to what they held; taken away, as there was none before; already as before.
    problems : tuple of str
        A sentence for each that could not be put back.
    """

    put_back: int
    removed: int
    as_they_were: int
    problems: tuple[str, ...]


def write_sidecars(workspace: Workspace, *, beside: bool = False, progress: Progress | None = None) -> Shown:
    """
    Write what ``plan_sidecars`` finds; may be interrupted and repeated at any point.

    Raises
    ------
    WorkspaceError
        As in ``plan_sidecars``.
    StoreError
        Another run holds the journal, or it cannot be written.
    """
    with locked(journal_folder(workspace)):
        plan = plan_sidecars(workspace, beside=beside)
        with Journal(workspace) as journal:
            return show_sidecars(plan, _written(workspace, plan.changes(progress), journal))


def _written(workspace: Workspace, changes: Iterator[Change], journal: Journal) -> Iterator[Change]:
    swept: set[Path] = set()
    while batch := list(itertools.islice(changes, _AT_ONCE)):
        due = [change for change in batch if change.outcome in {"new", "changed", "taken-back"}]
        if due:
            journal.add(Entry(change.spot, change.before, digest_of(change.after)) for change in due)
        done = [_put(workspace, change, swept) if change in due else change for change in batch]
        for folder in {sidecar_at(workspace, change.spot).parent for change in due}:
            flush_folder(folder)  # once for all of the batch: a waiting disk is what writing costs
        yield from done


def _put(workspace: Workspace, change: Change, swept: set[Path]) -> Change:
    path = sidecar_at(workspace, change.spot)
    try:
        if change.spot.where == "mirror":
            path.parent.mkdir(parents=True, exist_ok=True)
        _sweep(path.parent, swept)
        _replace(path, change.before, change.after)
    except (OSError, UnfitPacket, _ChangedMeanwhile) as reason:
        return change._replace(problem=_said(reason))
    return change


def _replace(path: Path, before: bytes | None, after: bytes | None) -> None:
    """
    Put new content in the place of the old one, unless that is not there any more.

    As `storage.atomic.replacing`, with a last look between the wait for the disk and the move, so that an edit by
    another program has microseconds to slip through instead of a disk's milliseconds.
    """
    if after is None:
        _refuse_changed(path, before)
        path.unlink(missing_ok=True)
        return
    target = path.resolve()  # a link stays a link
    unfinished = target.with_name(f"{TEMPORARY_PREFIX}{uuid.uuid4().hex}")
    try:
        with unfinished.open("xb") as out:
            out.write(after)
            out.flush()
            with contextlib.suppress(FileNotFoundError):
                unfinished.chmod(target.stat().st_mode & 0o7777)
            os.fsync(out.fileno())
        _refuse_changed(path, before)
        unfinished.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            unfinished.unlink()
        raise


def _refuse_changed(path: Path, before: bytes | None) -> None:
    if read_sidecar(path) != before:
        raise _ChangedMeanwhile("another program changed it just now")


def _said(reason: Exception) -> str:
    return getattr(reason, "strerror", None) or str(reason)


def _sweep(folder: Path, swept: set[Path]) -> None:
    """Remove what a killed run left unfinished in a folder; the lock is held, so nobody is writing it."""
    if folder in swept:
        return
    swept.add(folder)
    with contextlib.suppress(OSError):
        for name in os.listdir(folder):  # noqa: PTH208
            if _UNFINISHED.fullmatch(name):
                (folder / name).unlink(missing_ok=True)


def undo_sidecars(workspace: Workspace, progress: Progress | None = None) -> PutBack:
    """
    Put back, byte for byte, what each sidecar held before it was first written; take away those that are ours.

    A sidecar that another program has changed since is left to it, and the journal keeps what it held.

    Raises
    ------
    StoreError
        Another run holds the journal, or it is damaged or cannot be written.
    """
    with locked(journal_folder(workspace)):
        journal = read_journal(workspace)
        done: dict[str, int] = {"put back": 0, "removed": 0, "as they were": 0}
        problems: list[str] = []
        kept: list[Entry] = []
        swept: set[Path] = set()
        for number, (spot, entries) in enumerate(journal.items(), start=1):
            try:
                done[_undone(workspace, spot, entries, swept)] += 1
            except (OSError, KeyError, UnfitPacket, _ChangedMeanwhile) as reason:
                gone = f"archive {spot.archive} is not in settings.toml any more"
                problems.append(f"{spot}: {gone if isinstance(reason, KeyError) else _said(reason)}; left as it is")
                kept += entries
            if progress:
                progress(number, len(journal))
        for folder in swept:
            flush_folder(folder)  # before the journal forgets
        rewrite_journal(workspace, kept)
    return PutBack(done["put back"], done["removed"], done["as they were"], tuple(problems))


def _undone(workspace: Workspace, spot: Spot, entries: list[Entry], swept: set[Path]) -> str:
    path = sidecar_at(workspace, spot)
    if spot.where == "beside" and not workspace.archives[spot.archive].is_dir():
        raise _ChangedMeanwhile(f"archive {spot.archive} is not there")
    _sweep(path.parent, swept)
    now = read_sidecar(path)
    held = put_back(entries, now)
    if held.is_edited and held.content == now:
        raise _ChangedMeanwhile("another program has changed it since")
    if held.content == now:
        return "as they were"
    _replace(path, now, held.content)
    if held.content is not None:
        return "put back"
    if spot.where == "mirror":
        _remove_empty(path.parent, workspace.folder / MIRROR)
    return "removed"


def _remove_empty(folder: Path, mirror: Path) -> None:
    with contextlib.suppress(OSError):  # the first folder that still holds something ends it
        while folder != mirror.parent:
            folder.rmdir()
            folder = folder.parent
