"""Put flagged frames aside that were looked at and are fine, and flag them again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import replace

from auditor.errors import InputError
from auditor.model.aside import ASIDE_FILE, PutAside, aside_text, parse_aside
from auditor.model.documents import read_text
from auditor.model.workspace import Workspace
from auditor.storage.atomic import write_text

__all__ = ["flag_again", "load_aside", "put_aside"]


def load_aside(workspace: Workspace) -> tuple[tuple[PutAside, ...], tuple[str, ...]]:
    """
    Read what was put aside in a workspace; nothing where there is no aside.csv.

    Returns
    -------
    tuple
        The frames, and a sentence for each row that cannot be read.

    Raises
    ------
    InputError
        The file cannot be read at all.
    """
    path = workspace.folder / ASIDE_FILE
    return parse_aside(read_text(path, InputError)) if path.exists() else ((), ())


def put_aside(workspace: Workspace, frames: Sequence[PutAside]) -> None:
    """
    Add frames to a workspace's aside.csv; one that is there already has its flags as they are now.

    Raises
    ------
    InputError
        The file has rows that cannot be read, which would be lost; nothing is written.
    """
    moment = dt.datetime.now().replace(microsecond=0)
    keys = {(frame.archive, frame.path) for frame in frames}
    kept = [one for one in _readable(workspace) if (one.archive, one.path) not in keys]
    added = [replace(frame, looked_at=moment) for frame in frames]
    write_text(workspace.folder / ASIDE_FILE, aside_text([*kept, *added]))


def flag_again(workspace: Workspace, keys: Collection[tuple[str, str]]) -> int:
    """
    Take frames, by archive and path, out of a workspace's aside.csv, and return how many were there.

    Raises
    ------
    InputError
        As in ``put_aside``.
    """
    before = _readable(workspace)
    kept = [one for one in before if (one.archive, one.path) not in keys]
    if len(kept) < len(before):
        write_text(workspace.folder / ASIDE_FILE, aside_text(kept))
    return len(before) - len(kept)


def _readable(workspace: Workspace) -> tuple[PutAside, ...]:
    rows, problems = load_aside(workspace)
    if problems:
        raise InputError(f"{ASIDE_FILE}: mend these rows first, nothing was written", problems)
    return rows
