"""
Frames of one scene, how sharp each is against the crispest of them, and which pairs may show another lens.

Raw sharpness means nothing between scenes, lenses or ISO. So it is handed over as `Crispness`, which shows no number
and can only be asked for the ratio inside one scene.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from auditor.audit.times import recorded_offsets, steady_times
from auditor.vision.likeness import likeness

__all__ = [
    "ALIKE",
    "SAME_SCENE_S",
    "Crispness",
    "Row",
    "SmallPictures",
    "add_scene",
    "add_sharpness_in_scene",
    "pairs_across_changes",
    "pause_s",
    "same_gear",
    "shooting_order",
    "similar_iso",
]

SAME_SCENE_S = 60.0
"""A longer pause between two frames begins a new scene. [s]"""
ALIKE = 0.80
"""Small pictures that correlate less are of different scenes. [-]"""

_ALIKE_WITHOUT_TIMES = 0.95
_MOST_ISO_RATIO = 4.0
_LENS_COLUMNS = ("lens_model", "focal_length_mm", "lens", "adapter")

_LENS_CHANGE_TAKES_S, _SAME_SPOT_S = 5.0, 900.0
_SURE = 0.97

SmallPictures: TypeAlias = Sequence[NDArray[np.uint8] | None]
Row: TypeAlias = Mapping[Any, Any]
"""A frame; rows of a DataFrame are slow to take out one by one."""


@dataclass(frozen=True, eq=False, repr=False)
class Crispness:
    """
    Raw sharpness of frames, which is never shown and never compared between scenes.

    Parameters
    ----------
    edges : array of float, shape (n,)
        Slope of the worst orientation; NaN where too few edges. [1/px]
    gradients : array of float, shape (n,)
        Root of the noise-corrected Tenengrad; used in a scene where edges are not known for every frame.

    Examples
    --------
    >>> raw = Crispness([0.40, 0.20, 0.30], [9.0, 3.0, 5.0])
    >>> raw.within(["bench", "bench", "alone"]).round(2).tolist()
    [1.0, 0.5, nan]
    """

    edges: ArrayLike
    gradients: ArrayLike

    def __repr__(self) -> str:
        """Tell how many frames, and nothing that could be compared."""
        return f"Crispness of {np.size(self.edges)} frames; ask for it within scenes"

    def within(self, scenes: Sequence[str]) -> NDArray[np.float64]:
        """
        Return each frame's sharpness over that of the crispest of its scene.

        Parameters
        ----------
        scenes : sequence of str, shape (n,)

        Returns
        -------
        array of float, shape (n,)
            1 for the crispest; NaN when alone in its scene or not measured. [-]
        """
        raw = pd.DataFrame({"scene": list(scenes), "edges": self.edges, "gradients": self.gradients})
        by_scene = raw.groupby("scene")
        known = by_scene["edges"].transform(lambda edges: edges.notna().all())
        raw["score"] = raw["edges"].where(known, raw["gradients"])
        together = raw.groupby("scene")["score"]
        ratio = raw["score"] / together.transform("max").where(lambda best: best > 0)
        return ratio.where(together.transform("count") > 1).to_numpy(np.float64)


def add_scene(frames: pd.DataFrame, pictures: SmallPictures) -> pd.DataFrame:
    """
    Group frames of one scene: close in time, similar, by one body and one lens, at about the same ISO.

    Parameters
    ----------
    frames : DataFrame
        With ``archive``, ``path``, ``captured_at``, ``model``, ``body_serial_number``, ``photographic_sensitivity``
        and what is known of the lens; ``offset_minutes`` where local time may have gone back. Unchanged.
    pictures : sequence of array or None
        The small picture of each frame, in the same order; None where it could not be decoded.

    Returns
    -------
    DataFrame
        Same rows, same order, with ``scene``: the path of its first frame; null where there is no picture.

    Notes
    -----
    A frame belongs to the scene of the frame before it (by the same body) when at most a minute lies between them and
    their small pictures correlate; without times only when neighbours by name are all but identical. ISO may
    differ by two stops at most within a scene.
    """
    order, rows = shooting_order(frames), frames.to_dict("records")
    scene: list[str | None] = [None] * len(frames)
    first = before = -1
    for place in order:
        if pictures[place] is None:
            continue
        if before < 0 or not _belongs(rows, pictures, place, before, first):
            first = place
        scene[place] = f"{rows[first]['archive']}/{rows[first]['path']}"
        before = place
    return frames.assign(scene=pd.Series(scene, index=frames.index, dtype=object))


def shooting_order(frames: pd.DataFrame) -> list[int]:
    """Return row positions body by body, in the order of shooting; frames without a time by folder and name."""
    keys = pd.DataFrame(
        {
            "body": _body(frames),
            "timeless": frames["captured_at"].isna().to_numpy(),
            "at": _steady(frames),
            "archive": frames["archive"].to_numpy(),
            "path": frames["path"].to_numpy(),
        }
    )
    return [int(place) for place in keys.sort_values(["body", "timeless", "at", "archive", "path"]).index]


def _steady(frames: pd.DataFrame) -> NDArray[np.datetime64]:
    number = pd.factorize(pd.Series(_body(frames)))[0]
    return steady_times(frames["captured_at"].to_numpy("datetime64[us]"), recorded_offsets(frames), number)


def pause_s(a: Row, b: Row) -> float:
    """Return how long after a frame another was made by the clock; where it went back, by how much. [s]."""
    return float(abs((b["captured_at"] - a["captured_at"]).total_seconds()))


def _body(frames: pd.DataFrame) -> NDArray[np.object_]:
    names = frames["model"].fillna("").astype(str) + "|" + frames["body_serial_number"].fillna("").astype(str)
    return names.to_numpy(object)


def _belongs(rows: Sequence[Row], pictures: SmallPictures, place: int, before: int, first: int) -> bool:
    """Tell whether a frame is of the scene of the frame before it, which began with the first."""
    a, b = rows[before], rows[place]
    if not same_gear(a, b) or not similar_iso(rows[first], b):
        return False
    if not _has(a, "captured_at") or not _has(b, "captured_at"):
        both = not _has(a, "captured_at") and not _has(b, "captured_at")
        needed = _ALIKE_WITHOUT_TIMES if both and _folder(a) == _folder(b) else 2.0
    else:
        needed = ALIKE if pause_s(a, b) <= SAME_SCENE_S else 2.0
    if needed > 1:
        return False
    one, other = pictures[before], pictures[place]
    return one is not None and other is not None and likeness(one, other) >= needed


def _has(row: Row, name: str) -> bool:
    return name in row and bool(pd.notna(row[name]))


def _folder(frame: Row) -> tuple[str, str]:
    return str(frame["archive"]), str(frame["path"]).rpartition("/")[0]


def same_gear(a: Row, b: Row) -> bool:
    """Tell whether nothing that is recorded or found says another body or lens."""
    columns = [name for name in ("model", "body_serial_number", *_LENS_COLUMNS) if name in a]
    return all(not _has(a, name) or not _has(b, name) or a[name] == b[name] for name in columns)


def similar_iso(a: Row, b: Row) -> bool:
    """Tell whether two frames' ISO differ by two stops at most, as far as is recorded."""
    one, other = a["photographic_sensitivity"], b["photographic_sensitivity"]
    if not _has(a, "photographic_sensitivity") or not _has(b, "photographic_sensitivity") or min(one, other) <= 0:
        return True
    return bool(max(one, other) / min(one, other) <= _MOST_ISO_RATIO)


def add_sharpness_in_scene(frames: pd.DataFrame, crispness: Crispness) -> pd.DataFrame:
    """
    Set each frame's sharpness beside the crispest of its scene.

    Parameters
    ----------
    frames : DataFrame
        With ``scene`` from `add_scene`. Unchanged.
    crispness : Crispness
        Of the same rows in the same order.

    Returns
    -------
    DataFrame
        Same rows, same order, with ``sharpness_in_scene``; NaN when alone. A scene whose best frame is itself blurred
        flatters the others.
    """
    known = frames["scene"].notna().to_numpy()
    named = [
        scene if there else f"no scene {row}"
        for row, (scene, there) in enumerate(zip(frames["scene"], known, strict=True))
    ]
    return frames.assign(sharpness_in_scene=crispness.within(named))


def pairs_across_changes(frames: pd.DataFrame) -> list[tuple[int, int]]:
    """
    Name the pairs of frames whose overlap could tell whether the lens was changed.

    Parameters
    ----------
    frames : DataFrame
        As for `add_scene`; with ``lens``, ``adapter`` and ``pairing_confidence`` where an audit was made. Unchanged.

    Returns
    -------
    list of tuple of int
        Row positions, the earlier frame first. At each pause that was long enough to change a lens and short enough to
        still stand on the spot: the frames on both sides of it, and the one before with the one after, since one pair
        is a hint and two that agree are evidence.

    Notes
    -----
    Left out: pauses where the audit is sure of both sides, and where a lens with contacts reported itself on both.
    """
    rows = frames.to_dict("records")
    order = [place for place in shooting_order(frames) if _has(rows[place], "captured_at")]
    body = _body(frames)
    pairs = []
    for number in range(len(order) - 1):
        a, b = order[number], order[number + 1]
        if body[a] == body[b] and _may_have_changed(rows[a], rows[b]):
            pairs.append((a, b))
            pairs.extend(_second_pair(rows, body, order, number))
    return pairs


def _second_pair(
    rows: Sequence[Row], body: NDArray[np.object_], order: list[int], number: int
) -> list[tuple[int, int]]:
    """Return one more pair across a pause: the frame after the next, else the frame before the last."""
    a, b = order[number], order[number + 1]
    if number + 2 < len(order):
        later = order[number + 2]
        near = pause_s(rows[b], rows[later]) < _LENS_CHANGE_TAKES_S
        if near and body[later] == body[b]:
            return [(a, later)]
    if number > 0:
        earlier = order[number - 1]
        near = pause_s(rows[earlier], rows[a]) < _LENS_CHANGE_TAKES_S
        if near and body[earlier] == body[a]:
            return [(earlier, b)]
    return []


def _may_have_changed(a: Row, b: Row) -> bool:
    pause = pause_s(a, b)
    if not _LENS_CHANGE_TAKES_S <= pause <= _SAME_SPOT_S:
        return False
    return not (_is_settled(a) and _is_settled(b))


def _is_settled(frame: Row) -> bool:
    """Tell whether pixels could add nothing: the lens reported itself with its aperture, or the audit is sure."""
    reported = _has(frame, "lens_model") and _has(frame, "f_number")
    return reported or (_has(frame, "pairing_confidence") and bool(frame["pairing_confidence"] >= _SURE))
