"""Which frame of about the same moment another one can be set beside, to see what became of a subject."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from auditor.audit.scenes import SAME_SCENE_S, Row, SmallPictures, pause_s, same_gear, shooting_order, similar_iso
from auditor.vision.likeness import likeness

__all__ = ["EASILY_LAID", "LEAST_ALIKE", "MOST_ALIKE", "around", "sibling_of"]

LEAST_ALIKE = 0.50
"""Small pictures that correlate less show too little in common. A large subject that walked on leaves less than a
scene asks for; whether the two can be laid over each other is found out from the pixels. [-]"""
MOST_ALIKE = 0.985
"""Where they correlate more, nothing large enough changed its place, and neither frame is decoded for it. [-]"""

EASILY_LAID = 0.75
"""From here on frames are nearly always laid over each other, and the one that differs most is taken. [-]"""

_BLURRED = ("shake", "missed-focus")
_FRAMES_AWAY = 2


def around(frames: pd.DataFrame) -> list[tuple[int, ...]]:
    """
    Name the frames that each could be set beside: up to two before and two after it, by one body and lens.

    Parameters
    ----------
    frames : DataFrame
        As for `auditor.audit.scenes.add_scene`. Unchanged.

    Returns
    -------
    list of tuple of int
        For each row the positions of others within a minute, the nearest first; none for a frame without a time.

    Examples
    --------
    >>> near = pd.to_datetime(["2026-05-02 10:00:00", "2026-05-02 10:00:03", "2026-05-02 11:00:00"])
    >>> frames = pd.DataFrame({"archive": "main", "path": ["a", "b", "c"], "captured_at": near, "model": "one"})
    >>> around(frames.assign(body_serial_number=None, photographic_sensitivity=200, offset_minutes=None))
    [(1,), (0,), ()]
    """
    rows, order = frames.to_dict("records"), shooting_order(frames)
    found: list[tuple[int, ...]] = [()] * len(rows)
    for at, place in enumerate(order):
        near = [
            order[at + step]
            for away in range(1, _FRAMES_AWAY + 1)
            for step in (-away, away)
            if 0 <= at + step < len(order)
        ]
        found[place] = tuple(other for other in near if _of_one_moment(rows[place], rows[other]))
    return found


def _of_one_moment(a: Row, b: Row) -> bool:
    timed = all(bool(pd.notna(one["captured_at"])) for one in (a, b))
    return timed and same_gear(a, b) and similar_iso(a, b) and pause_s(a, b) <= SAME_SCENE_S


def sibling_of(place: int, near: Sequence[int], pictures: SmallPictures, kinds: Sequence[str]) -> int | None:
    """
    Choose the frame that one is set beside.

    Parameters
    ----------
    place : int
        Position of the frame.
    near : sequence of int
        Positions of the others, from `around`.
    pictures : sequence of array or None
        The small picture of each frame.
    kinds : sequence of str
        The kind of blur of each frame.

    Returns
    -------
    int or None
        Of the sharp ones, else of those that are not blurred as a whole, the one that differs most among those easily
        laid over the frame: between two of a quick series a subject hardly moves, and nothing changes. None when none
        will do.
    """
    mine = pictures[place]
    usable: list[tuple[bool, float, int]] = []
    if mine is None or kinds[place] in _BLURRED:
        return None
    for other in near:
        theirs = pictures[other]
        if theirs is not None and kinds[other] not in _BLURRED:
            alike = likeness(mine, theirs)  # 0 where the shapes differ
            if LEAST_ALIKE <= alike <= MOST_ALIKE:
                easily = alike >= EASILY_LAID
                usable.append((kinds[other] == "sharp", -alike if easily else alike - 2, -other))
    return -max(usable)[2] if usable else None
