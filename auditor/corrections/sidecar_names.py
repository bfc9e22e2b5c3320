"""
Which sidecar belongs to which frame, under both habits of naming.

``name.xmp`` is the way of the XMP Specification, part 3; with raw+JPEG pairs and derived pictures many programs keep
the ending: ``name.ext.xmp``. What lies beside a frame is followed, then the habit of its folder, then the setting.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from typing import Literal, NamedTuple, TypeAlias

__all__ = ["Habit", "Names", "sidecar_names"]

Habit: TypeAlias = Literal["name.xmp", "name.ext.xmp"]

_RENDERED = frozenset({"jpg", "jpeg", "jpe", "heic", "heif", "hif", "tif", "tiff", "png", "webp", "avif", "jxl"})


class Names(NamedTuple):
    """A frame's file names, without folder: its own, and that of the other file of a raw+JPEG pair."""

    name: str
    companion: str | None = None


def _stem(name: str) -> str:
    return name.rpartition(".")[0] or name


def _is_rendered(frame: Names) -> bool:
    return frame.name.rpartition(".")[2].lower() in _RENDERED


def sidecar_names(frames: Sequence[Names], found: Collection[str], otherwise: Habit) -> list[tuple[str, ...]]:
    """
    Return the sidecars of each frame of a folder: those that are there, else the one to make.

    Parameters
    ----------
    frames : sequence of Names
        Every frame of the folder.
    found : collection of str
        Names of the folder's sidecars.
    otherwise : str
        The habit where the folder shows none.

    Returns
    -------
    list of tuple of str
        Never the same name for two frames: ``name.xmp`` belongs to the raw file where several share the name.

    Examples
    --------
    >>> sidecar_names([Names("a.orf"), Names("b.orf")], ["a.orf.xmp"], "name.xmp")
    [('a.orf.xmp',), ('b.orf.xmp',)]
    >>> sidecar_names([Names("a.jpg"), Names("a.orf")], ["a.XMP"], "name.xmp")
    [('a.jpg.xmp',), ('a.XMP',)]
    """
    by_bearer: dict[str, list[str]] = {}
    for name in sorted(found):
        by_bearer.setdefault(name[:-4], []).append(name)
    owners: dict[str, Names] = {}
    for frame in sorted(frames, key=lambda frame: (_is_rendered(frame), frame.name)):
        owners.setdefault(_stem(frame.name), frame)
    whole_names = {name for frame in frames for name in frame if name}
    habits = Counter[Habit]("name.ext.xmp" if bearer in whole_names else "name.xmp" for bearer in by_bearer
                            if bearer in whole_names or bearer in owners)  # fmt: skip
    habit = habits.most_common(1)[0][0] if habits and len(set(habits.values())) == len(habits) else otherwise
    chosen = []
    for frame in frames:
        is_owner = owners[_stem(frame.name)] == frame
        bearers = [name for name in (*frame, _stem(frame.name) if is_owner else None) if name]
        there = [name for bearer in dict.fromkeys(bearers) for name in by_bearer.get(bearer, ())]
        made = _stem(frame.name) if habit == "name.xmp" and is_owner else frame.name
        chosen.append(tuple(there) or (f"{made}.xmp",))
    return chosen
