"""
The journal of written sidecars: what each held before, and what was put there.

One JSON document a line. A line is on the disk before its sidecar is touched, so that whatever a kill leaves behind can
be told: a file that is what a line put there was written, one that is what the line found was not.
"""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

__all__ = ["Entry", "Spot", "Undone", "by_spot", "digest_of", "from_line", "put_back", "to_line"]

Where: TypeAlias = Literal["mirror", "beside"]


class Spot(NamedTuple):
    """Where a sidecar lies: in the mirror or beside its frame, in which archive, and its path in it as text."""

    where: Where
    archive: str
    path: str

    def __str__(self) -> str:
        return f"{self.archive}/{self.path}" + (" (mirror)" if self.where == "mirror" else "")


@dataclass(frozen=True)
class Entry:
    """
    One write.

    Attributes
    ----------
    spot : Spot
    before : bytes or None
        What was there; None when there was no file.
    after : str or None
        Digest of what was put there; None when the file was taken away.
    """

    spot: Spot
    before: bytes | None
    after: str | None


def digest_of(content: bytes | None) -> str | None:
    """
    Return what tells one content from another, None for no file.

    Examples
    --------
    >>> digest_of(b"")[:8], digest_of(None)
    ('e3b0c442', None)
    """
    return None if content is None else hashlib.sha256(content).hexdigest()


def to_line(entry: Entry) -> bytes:
    r"""
    Return an entry's line.

    Examples
    --------
    >>> entry = Entry(Spot("mirror", "main", "day/a.xmp"), b"old", digest_of(b"new"))
    >>> from_line(to_line(entry)) == entry
    True
    """
    before = None if entry.before is None else base64.b64encode(zlib.compress(entry.before)).decode()
    return json.dumps({**entry.spot._asdict(), "before": before, "after": entry.after}).encode() + b"\n"


def from_line(line: bytes) -> Entry:
    """
    Return the entry of a line.

    Raises
    ------
    ValueError
        The line is not one of ours, or was not finished.
    """
    try:
        held = json.loads(line)
        before = None if held["before"] is None else zlib.decompress(base64.b64decode(held["before"]))
        return Entry(Spot(held["where"], held["archive"], held["path"]), before, held["after"])
    except (KeyError, TypeError, zlib.error) as reason:
        raise ValueError(f"not a line of the journal: {reason}") from None


class Undone(NamedTuple):
    """What undoing one sidecar comes to: what to put there, and whether another program's edit is in the way."""

    content: bytes | None
    is_edited: bool


def put_back(entries: Sequence[Entry], now: bytes | None) -> Undone:
    """
    Return what a sidecar held before we first wrote it.

    Parameters
    ----------
    entries : sequence of Entry
        Of one sidecar, oldest first.
    now : bytes or None
        What it holds.

    Returns
    -------
    Undone
        An edit by another program is never undone: the way back ends there.

    Examples
    --------
    >>> spot = Spot("beside", "main", "a.xmp")
    >>> entries = [Entry(spot, None, digest_of(b"one")), Entry(spot, b"one", digest_of(b"two"))]
    >>> put_back(entries, b"two")
    Undone(content=None, is_edited=False)
    >>> put_back(entries, b"edited")
    Undone(content=b'edited', is_edited=True)
    """
    content = now
    for entry in reversed(entries):
        if digest_of(content) == entry.after:
            content = entry.before
        elif content != entry.before:
            return Undone(content, True)
    return Undone(content, False)


def by_spot(entries: Iterable[Entry]) -> dict[Spot, list[Entry]]:
    """Return the entries of each sidecar, oldest first."""
    found: dict[Spot, list[Entry]] = {}
    for entry in entries:
        found.setdefault(entry.spot, []).append(entry)
    return found
