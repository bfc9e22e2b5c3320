"""Where two frames of one scene show something else: one is laid over the other and compared cell by cell."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.landmarks import Landmarks, at_most, landmarks, matches

__all__ = ["COMPARED_SIDE_PX", "Change", "Reduced", "change", "reduced"]

COMPARED_SIDE_PX = 750
"""Long side of the pictures that are compared. [px]"""

_CELL_PX, _REACH_PX = 8, 3
_MOST_LANDMARKS = 1200
_FEWEST_MATCHES, _FEWEST_AGREEING, _AGREE_PX = 20, 12, 2.0
_MOST_SHIFT, _MOST_SCALE, _MOST_TURN_DEG = 0.15, 1.12, 8.0
_ANOTHER, _THE_SAME = 0.65, 0.80
_OVER_NOISE, _LEAST_ENERGY, _LEAST_NOISE = 4.0, 2.0, 0.5
_RING = 0.12
_LEAST_CHANGED, _LEAST_SAME_AT_EDGES, _MOST_LOST = 0.02, 0.30, 0.045

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Change:
    """
    What is another thing in a frame than in its sibling, and what is the same.

    Attributes
    ----------
    changed, same : array of bool, shape (rows, columns)
        Cells that cover the frame evenly; neither where there is too little detail or the sibling does not reach.
    same_at_edges : float
        Share of the cells with detail along the frame's edges that are the same. [-]
    lost_one_way : float
        How much more fine detail one of the two has lost in one direction than across it, where they show the same:
        0 when the camera stood as still for both. [-]
    """

    changed: Mask
    same: Mask
    same_at_edges: float
    lost_one_way: float

    @property
    def is_worth_a_look(self) -> bool:
        """
        Whether enough changed to be judged, and it was not the camera.

        In a panned frame the frame's edges change; in a shaken one what is the same has lost detail in one direction.
        """
        still = self.same_at_edges >= _LEAST_SAME_AT_EDGES and self.lost_one_way <= _MOST_LOST
        return bool(self.changed.mean() >= _LEAST_CHANGED and still)


@dataclass(frozen=True, eq=False)
class Reduced:
    """A frame at the size at which frames are compared, with its landmarks."""

    grey: NDArray[np.uint8]
    marks: Landmarks


def reduced(grey: NDArray[np.uint8]) -> Reduced:
    """
    Make a frame ready to be compared: once, however many others it is compared with.

    Parameters
    ----------
    grey : array of uint8, shape (height, width)
        Some 750 px long or more.

    Examples
    --------
    >>> reduced(np.zeros((600, 900), np.uint8)).grey.shape
    (500, 750)
    """
    grey = at_most(grey, COMPARED_SIDE_PX)
    return Reduced(grey, landmarks(grey, _MOST_LANDMARKS))


def change(frame: Reduced, sibling: Reduced) -> Change | None:
    """
    Compare a frame with another one of its scene.

    Parameters
    ----------
    frame, sibling : Reduced

    Returns
    -------
    Change or None
        None where the two cannot be laid over each other: of two shapes, with too few landmarks in common, or held too
        differently.

    Notes
    -----
    Landmarks as in `auditor.vision.focal_ratio`, a similarity by RANSAC [1]_, then the normalised correlation of fine
    detail [2]_ in windows of 3 × 3 cells, at the best of 49 shifts of up to 3 px, which forgives a small parallax.
    Exposure cancels.

    References
    ----------
    .. [1] M. A. Fischler, R. C. Bolles, Random sample consensus, Commun. ACM 24(6):381 (1981).
    .. [2] J. P. Lewis, Fast template matching, Vision Interface 95, p. 120 (1995).

    Examples
    --------
    >>> plain = reduced(np.zeros((300, 400), np.uint8))
    >>> change(plain, plain) is None
    True
    """
    turn = _registration(frame, sibling) if frame.grey.shape == sibling.grey.shape else None
    if turn is None:
        return None
    height, width = frame.grey.shape
    laid = cv2.warpAffine(sibling.grey, turn, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    reached = cv2.warpAffine(np.full_like(sibling.grey, 255), turn, (width, height))
    alike, mine, other = _correlation(_detail(frame.grey), _detail(np.asarray(laid, np.uint8)))
    seen = cv2.erode((_cells(reached.astype(np.float32)) > _WHOLLY).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    noise = max(float(np.percentile(mine, 4)), float(np.percentile(other, 4)), _LEAST_NOISE)
    told = np.asarray((np.maximum(mine, other) > _OVER_NOISE * noise + _LEAST_ENERGY) & seen)
    same = told & (alike >= _THE_SAME)
    another = (told & (alike < _ANOTHER)).astype(np.uint8)
    whole = cv2.morphologyEx(another, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    whole = cv2.morphologyEx(whole, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    lost = _lost_one_way(frame.grey, np.asarray(laid, np.uint8), same)
    return Change(np.asarray(whole > 0), same, _share_at_edges(same, told), lost)


_WHOLLY = 250.0


def _registration(frame: Reduced, sibling: Reduced) -> NDArray[np.float64] | None:
    """Return the similarity that lays the sibling over the frame, from corner to corner; None when none is sure."""
    a, b = matches(sibling.marks, frame.marks)
    if len(a) < _FEWEST_MATCHES:
        return None
    cv2.setRNGSeed(1)
    found, agree = cv2.estimateAffinePartial2D(a, b, method=cv2.RANSAC, ransacReprojThreshold=_AGREE_PX)
    if found is None or int(agree.sum()) < _FEWEST_AGREEING:
        return None
    turn = np.asarray(found, np.float64)
    scale, shift = hypot(turn[0, 0], turn[1, 0]), hypot(turn[0, 2], turn[1, 2])
    angle = abs(np.rad2deg(np.arctan2(turn[1, 0], turn[0, 0])))
    if (
        not 1 / _MOST_SCALE < scale < _MOST_SCALE
        or angle > _MOST_TURN_DEG
        or shift > _MOST_SHIFT * max(frame.grey.shape)
    ):
        return None
    middle = np.array([(frame.grey.shape[1] - 1) / 2, (frame.grey.shape[0] - 1) / 2])
    turn[:, 2] += middle - turn[:, :2] @ middle
    return turn


def _detail(grey: NDArray[np.uint8]) -> Floats:
    level = grey.astype(np.float32)
    return np.asarray(cv2.GaussianBlur(level, (0, 0), 1.0) - cv2.GaussianBlur(level, (0, 0), 4.0), np.float32)


def _cells(picture: Floats) -> Floats:
    rows, columns = picture.shape[0] // _CELL_PX, picture.shape[1] // _CELL_PX
    whole = picture[: rows * _CELL_PX, : columns * _CELL_PX]
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA), np.float32)


def _pooled(picture: Floats) -> Floats:
    return np.asarray(cv2.blur(_cells(picture), (3, 3), borderType=cv2.BORDER_REFLECT), np.float32)


def _correlation(a: Floats, b: Floats) -> tuple[Floats, Floats, Floats]:
    """Return for each cell the correlation at the best shift, and the energy of detail in both."""
    mine = _pooled(a * a)
    best = np.full(mine.shape, -1.0, np.float32)
    wide = cv2.copyMakeBorder(b, _REACH_PX, _REACH_PX, _REACH_PX, _REACH_PX, cv2.BORDER_REFLECT_101)
    height, width = a.shape
    for down in range(2 * _REACH_PX + 1):
        for across in range(2 * _REACH_PX + 1):
            moved = np.asarray(wide[down : down + height, across : across + width], np.float32)
            alike = _pooled(a * moved) / np.sqrt(mine * _pooled(moved * moved) + 1e-6)
            np.maximum(best, alike, out=best)
    return best, mine, _pooled(b * b)


def _share_at_edges(same: Mask, told: Mask) -> float:
    rows, columns = same.shape
    ring = np.ones(same.shape, bool)
    down, across = max(1, round(_RING * rows)), max(1, round(_RING * columns))
    ring[down : rows - down, across : columns - across] = False
    return float(same[ring].sum() / max(int(told[ring].sum()), 1))


def _lost_one_way(frame: NDArray[np.uint8], laid: NDArray[np.uint8], same: Mask) -> float:
    """Return the amplitude, over directions, of the logarithm of one frame's energy of fine detail over the other's."""
    if not same.any():
        return 0.0
    turns = np.arange(_TURNS) * (np.pi / _TURNS)
    ways = np.column_stack([np.cos(turns) ** 2, np.sin(2 * turns), np.sin(turns) ** 2])
    energies = []
    for grey in (frame, laid):
        level = grey.astype(np.float32)
        across, down = (cv2.Sobel(level, cv2.CV_32F, *way, ksize=1, scale=0.5) for way in ((1, 0), (0, 1)))
        parts = [_cells(np.asarray(part, np.float32))[same].sum() for part in (across**2, across * down, down**2)]
        energies.append(ways @ np.array(parts, np.float64))
    ratio = np.log(np.maximum(energies[0], 1e-6) / np.maximum(energies[1], 1e-6))
    return float(np.ptp(ratio) / 2)


_TURNS = 8
