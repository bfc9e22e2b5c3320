"""
What an index run has to do: walk the archives, compare with the stored rows, say which frames to read and which left.

Two passes, both in constant memory. The first walks and compares each folder's digest of names, sizes and times with
that of the last run; a folder that is as it was needs nothing more. The second looks at the rows of the others.
"""

from __future__ import annotations

import pickle
import tempfile
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from dataclasses import replace as with_changes
from typing import IO, NamedTuple

from auditor.errors import WorkspaceError
from auditor.pipeline.folder_states import FolderKey, KnownFolder, digest, known_folders
from auditor.readers.archive import Folder, frames_in, walk
from auditor.readers.frames import Frame
from auditor.readers.names import as_text
from auditor.readers.problems import Skipped
from auditor.storage.datasets import Manifest, read_part
from auditor.storage.places import Place

__all__ = ["Plan", "Position", "ToRead", "look_through"]

_GROUP_FILES = 50_000
_KEY_COLUMNS = ("archive", "path", "size", "mtime_ns", "companion")


class Position(NamedTuple):
    """A row of the store: its part's file, and where in it."""

    file: str
    row: int


class ToRead(NamedTuple):
    """A frame to read, and the rows that its reading replaces."""

    archive: str
    frame: Frame
    replaces: tuple[Position, ...]


@dataclass
class Plan:
    """
    What is to be done.

    Attributes
    ----------
    to_read : file
        `ToRead` values, pickled one after another; `count` of them.
    gone : dict
        Positions of rows whose files are no longer there, by part.
    skipped : Counter
        What is not a frame, by reason.
    folders : dict
        What each folder looks like now, by archive and folder.
    is_news : bool
        Some folder does not look as it did in the last run.
    """

    to_read: IO[bytes]
    count: int = 0
    gone: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    skipped: Counter[str] = field(default_factory=Counter)
    folders: dict[FolderKey, KnownFolder] = field(default_factory=dict)
    is_news: bool = False

    def frames(self) -> Iterator[ToRead]:
        """Yield the frames to read, in the order of the walk."""
        self.to_read.seek(0)
        for _ in range(self.count):
            archive, frame, replaces = pickle.load(self.to_read)  # noqa: S301  (our own temporary file)
            yield ToRead(archive, frame, replaces)


@dataclass
class _Look:
    """The first pass: folders to look into, folders that could not be read, and files found in each archive."""

    groups: IO[bytes]
    count: int = 0
    closed: list[tuple[str, str]] = field(default_factory=list)
    found: Counter[str] = field(default_factory=Counter)

    def keep(self, group: list[tuple[str, Folder]]) -> None:
        if group:
            pickle.dump(group, self.groups, pickle.HIGHEST_PROTOCOL)
            self.count += 1

    def changed(self) -> Iterator[list[tuple[str, Folder]]]:
        self.groups.seek(0)
        for _ in range(self.count):
            yield pickle.load(self.groups)  # noqa: S301  (our own temporary file)


def _all_folders(archives: Mapping[str, str]) -> Iterator[tuple[str, Folder]]:
    for archive, root in archives.items():
        try:
            yield from ((archive, folder) for folder in walk(root))
        except OSError as refused:
            raise WorkspaceError(
                f"archive {archive}: {root} cannot be read ({refused.strerror or refused}); nothing was changed",
                ["is the disk connected? the folder of each archive is in settings.toml"],
            ) from refused


def _is_as_before(folder: Folder, key: tuple[str, str], known: Mapping[FolderKey, KnownFolder], plan: Plan) -> bool:
    """Compare a folder with the last run's, and note what it looks like now."""
    now = digest(folder)
    before = known.get(key)
    if before is None or before.digest != now:
        plan.folders[key] = KnownFolder(now)
        return False
    plan.folders[key] = before
    plan.skipped[Skipped.SIDECAR_ALONE.value] += before.alone
    plan.skipped[Skipped.NOT_A_PICTURE.value] += before.no_pictures
    return True


def _walk_all(
    archives: Mapping[str, str],
    known: Mapping[FolderKey, KnownFolder],
    plan: Plan,
    look: _Look,
    tell: Callable[[int], None],
) -> None:
    group: list[tuple[str, Folder]] = []
    files = 0
    for archive, folder in _all_folders(archives):
        key = (archive, as_text(folder.path))
        plan.skipped.update(folder.skipped)
        if folder.skipped[Skipped.FOLDER_CLOSED.value]:
            look.closed.append(key)
            continue
        entries = sum(map(len, folder.entries.values()))
        look.found[archive] += entries
        if _is_as_before(folder, key, known, plan):
            continue
        group.append((archive, folder))
        files += entries
        if files >= _GROUP_FILES:
            look.keep(group)
            group, files = [], 0
        tell(look.found.total())
    look.keep(group)


class _Stored(NamedTuple):
    """A stored row: where it is, and what it says of its files."""

    position: Position
    size: int
    mtime_ns: int
    companion: str | None


def _stored_rows(place: Place, manifest: Manifest) -> Iterator[tuple[str, str, _Stored]]:
    """Yield archive, path and state of every stored row, part by part."""
    for part in manifest.parts:
        dropped = set(part.dropped)
        columns = read_part(place, with_changes(part, dropped=()), _KEY_COLUMNS).to_pydict()
        for row, key in enumerate(zip(*(columns[name] for name in _KEY_COLUMNS), strict=True)):
            if row not in dropped:
                archive, path, size, mtime_ns, companion = key
                yield archive, path, _Stored(Position(part.file, row), size, mtime_ns, companion)


def _is_as_stored(frame: Frame, own: _Stored | None, other: _Stored | None) -> bool:
    """Tell whether a frame's rows say just what its files look like."""
    if own is None or own.size != frame.file.size:
        return False
    if frame.companion is None:
        return own.companion is None and own.mtime_ns == frame.file.mtime_ns
    if own.companion is not None:
        newest_ns = max(frame.file.mtime_ns, frame.companion.mtime_ns)
        return other is None and own.companion == frame.companion.path and own.mtime_ns == newest_ns
    # Of one name, but of two exposures: each has its row.
    return (
        other is not None
        and own.mtime_ns == frame.file.mtime_ns
        and (other.size, other.mtime_ns) == (frame.companion.size, frame.companion.mtime_ns)
    )


def _decide(archive: str, frames: list[Frame], rows: dict[tuple[str, str], _Stored], plan: Plan) -> None:
    """Take the stored rows of a folder's frames out of `rows`, and put into the plan the frames that differ."""
    for frame in frames:
        own = rows.pop((archive, frame.file.path), None)
        other = rows.pop((archive, frame.companion.path), None) if frame.companion else None
        if _is_as_stored(frame, own, other):
            continue
        replaces = tuple(stored.position for stored in (own, other) if stored is not None)
        pickle.dump((archive, frame, replaces), plan.to_read, pickle.HIGHEST_PROTOCOL)
        plan.count += 1


def _is_closed(archive: str, path: str, closed: list[tuple[str, str]]) -> bool:
    return any(archive == where and path.startswith(folder) for where, folder in closed)


def _look_into(group: list[tuple[str, Folder]], rows: dict[tuple[str, str], _Stored], plan: Plan) -> None:
    for archive, folder in group:
        before = Counter(folder.skipped)
        _decide(archive, frames_in(folder), rows, plan)
        alone = (folder.skipped - before)[Skipped.SIDECAR_ALONE.value]
        plan.folders[archive, as_text(folder.path)].alone = alone
        plan.skipped[Skipped.SIDECAR_ALONE.value] += alone
    for stored in rows.values():
        plan.gone[stored.position.file].append(stored.position.row)


def _refuse_vanished(archives: Mapping[str, str], known: Counter[str], found: Counter[str]) -> None:
    """Raise for an archive that had frames and has no file at all: most likely a disk that is not mounted."""
    lost = [archive for archive in archives if known[archive] and not found[archive]]
    if lost:
        raise WorkspaceError(
            "an archive seems to be empty; nothing was changed",
            [
                f"{archive}: {known[archive]} frames of it are known, and {archives[archive]} holds no picture: is the "
                "disk connected? if the archive is no longer wanted, take it out of settings.toml"
                for archive in lost
            ],
        )


def look_through(
    archives: Mapping[str, str], place: Place, manifest: Manifest, tell: Callable[[int], None] = lambda found: None
) -> Plan:
    """
    Walk archives and decide what an index run has to do. Nothing is opened, nothing is written.

    Parameters
    ----------
    archives : mapping
        Folder of each archive by its name.
    place : Place
        The frames dataset.
    manifest : Manifest
        Its manifest.
    tell : callable
        Told how many files were found so far.

    Returns
    -------
    Plan
        Its `to_read` is for the caller to close.

    Raises
    ------
    WorkspaceError
        An archive's folder cannot be read, or is empty although it was not.
    StoreError
        A stored part cannot be read.
    """
    known = known_folders(place, manifest)
    plan = Plan(tempfile.TemporaryFile())  # noqa: SIM115  (lives as long as the plan)
    try:
        with tempfile.TemporaryFile() as groups:
            look = _Look(groups)
            _walk_all(archives, known, plan, look, tell)
            left = known.keys() - plan.folders.keys()
            plan.is_news = bool(look.count or left)
            _compare(archives, (place, manifest), look, plan)
    except BaseException:
        plan.to_read.close()
        raise
    return plan


def _compare(archives: Mapping[str, str], dataset: tuple[Place, Manifest], look: _Look, plan: Plan) -> None:
    """Look at the stored rows of the folders that are not as they were, and of those that are no longer there."""
    stored: Counter[str] = Counter()
    groups = iter(look.changed()) if look.count else iter([[]] if plan.is_news or look.closed else [])
    for number, group in enumerate(groups):
        keys = {(archive, as_text(folder.path)) for archive, folder in group}
        rows: dict[tuple[str, str], _Stored] = {}
        for archive, path, row in _stored_rows(*dataset):
            key = (archive, path[: path.rfind("/") + 1])
            if key in keys:
                rows[archive, path] = row
            elif number == 0 and key not in plan.folders and not _is_closed(archive, path, look.closed):
                plan.gone[row.position.file].append(row.position.row)
            stored[archive] += number == 0
        if number == 0:
            _refuse_vanished(archives, stored, look.found)
        _look_into(group, rows, plan)
