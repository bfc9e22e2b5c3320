"""
The ratio of two frames' true focal lengths, from what both show.

Seen from one spot, a longer lens draws the same things larger, whatever either frame's metadata says. From two spots
it proves nothing: walking closer enlarges too. What tells them apart is how much of what a moved camera could explain
is explained by a turned one, and whether what is not stands off by more than a hand's sway.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot, log, sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.landmarks import Landmarks, Points, matches

__all__ = ["FocalRatio", "focal_ratio", "matched_ratio"]

USUAL_FOCAL_OVER_LONG_SIDE = 1.2
"""Focal length over the long side of the sensor where nothing is known; a normal lens. [-]"""

_DISTINCT_PX = 3.0
_FEWEST_INLIERS, _FEWEST_CELLS = 25, 8
_LEAST_TURNED_SHARE = 0.6
_SWAY, _MISMATCH = 0.015, 0.15
_MOST_DISPLACED_SHARE, _MOST_DISPLACED_SHARE_SAME = 0.05, 0.15
_MOST_SHEAR, _MOST_DIFFERENCE = 1.5, 0.10
_ANOTHER, _SAME = 1.20, 1.15


@dataclass(frozen=True)
class FocalRatio:
    """
    Focal length of the second frame over that of the first.

    Attributes
    ----------
    ratio, low, high : float
        Best value and the range within two standard errors; NaN when it cannot be told. [-]
    verdict : str
        same, another, unknown.
    reason : str
        Why it cannot be told, empty when it can.
    inliers : int
        Distinct points that agree.
    """

    ratio: float
    low: float
    high: float
    verdict: str
    reason: str
    inliers: int


def focal_ratio(
    first: Landmarks, second: Landmarks, focal_over_long_side: float = USUAL_FOCAL_OVER_LONG_SIDE
) -> FocalRatio:
    """
    Compare the focal lengths of two frames of one body.

    Parameters
    ----------
    first, second : Landmarks
    focal_over_long_side : float
        Guess for the first frame: focal length over the sensor's long side; within a factor 1.6 will do. [-]

    Returns
    -------
    FocalRatio

    Notes
    -----
    For a camera that turned only, the homography is K₂·R·K₁⁻¹; the rows of K₂⁻¹·H·K₁ have one length, which gives
    the second focal length from the first [1]_. Matches are the mutual nearest with Lowe's ratio .8, the homography by
    MAGSAC++ [2]_. Answers only when at least 25 distinct points in 8 of 64 cells agree, when similarity and
    homography do, and when a turned camera explains at least .6 of what a moved camera could: walking towards a facade
    gives the scale of a longer lens with hundreds of matches. Besides, at most .05 of the matches that matter (.15
    for the same lens) may be displaced: on the epipolar geometry of a moved camera, and off from where the turned one
    has them by more than .015 of the wider frame and less than .15 of the longer one. A person who stays where he
    stands sways by less (up to .012 was simulated). On a flat or very distant subject walking *is* a zoom, and
    nothing in the pixels tells. Assumes the optical axis at the centre of both frames: no shift lens, no cropping.

    References
    ----------
    .. [1] R. Hartley, A. Zisserman, Multiple View Geometry in Computer Vision, 2nd ed., sec. 8.4 and 19.
    .. [2] D. Barath, J. Noskova, M. Ivashechkin, J. Matas, MAGSAC++, CVPR 2020.

    Examples
    --------
    >>> from auditor.vision.landmarks import landmarks
    >>> nothing = landmarks(np.zeros((300, 400), np.uint8))
    >>> focal_ratio(nothing, nothing).reason
    'no overlap found'
    """
    return matched_ratio(matches(first, second), (first.size, second.size), focal_over_long_side)


def matched_ratio(
    places: tuple[Points, Points],
    sizes: tuple[tuple[int, int], tuple[int, int]],
    focal_over_long_side: float = USUAL_FOCAL_OVER_LONG_SIDE,
) -> FocalRatio:
    """
    Compare the focal lengths of two frames by what `matches` found in both.

    Parameters
    ----------
    places : tuple of array of float, shape (n, 2)
        In the first and in the second frame, from its centre. [px]
    sizes : tuple of tuple of int
        Width and height of both. [px]
    focal_over_long_side : float
        As for `focal_ratio`. [-]

    Returns
    -------
    FocalRatio

    Examples
    --------
    >>> matched_ratio((np.zeros((3, 2)), np.zeros((3, 2))), ((1000, 667), (1000, 667))).reason
    'no overlap found'
    """
    a, b = places
    if len(a) < _FEWEST_INLIERS:
        return _untold("no overlap found", len(a))
    cv2.setRNGSeed(1)
    similar, _ = cv2.estimateAffinePartial2D(a, b, method=cv2.RANSAC, ransacReprojThreshold=16.0)
    turned, mask = cv2.findHomography(a, b, cv2.USAC_MAGSAC, 4.0, maxIters=4000, confidence=0.999)
    if similar is None or turned is None or not np.isfinite(turned).all():
        return _untold("no overlap found", 0)
    matrix, inlying = np.asarray(turned, np.float64), np.asarray(mask).ravel().astype(bool)
    explained = _explained(a, b, inlying)
    inliers, reason = _weighed(a, b, inlying, explained, sizes)
    if reason:
        return _untold(reason, inliers)
    plain = hypot(similar[0, 0], similar[1, 0])
    scale, shear = _local_scale(matrix, a[inlying].mean(axis=0))
    if abs(log(scale / plain)) > _MOST_DIFFERENCE or shear > _MOST_SHEAR:
        return _untold("no overlap found", inliers)
    found = _verdict(_turned_ratio(matrix, focal_over_long_side * max(sizes[0])), plain, inliers)
    off = np.linalg.norm(cv2.perspectiveTransform(a[:, None], matrix)[:, 0] - b, axis=1) / max(sizes[1])
    most = _MOST_DISPLACED_SHARE_SAME if found.verdict == "same" else _MOST_DISPLACED_SHARE
    if _displaced_share(off, found.ratio, inlying, explained) > most:
        return _untold(_MOVED, inliers)
    return found


_MOVED = "the camera moved between the frames"


def _untold(reason: str, inliers: int) -> FocalRatio:
    return FocalRatio(float("nan"), float("nan"), float("nan"), "unknown", reason, inliers)


def _explained(a: Points, b: Points, inlying: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which matches a camera that moved could explain."""
    _, moved = cv2.findFundamentalMat(a, b, cv2.USAC_MAGSAC, 4.0, 0.999, 4000)
    return inlying if moved is None else moved.ravel() > 0


def _displaced_share(off: Points, ratio: float, inlying: NDArray[np.bool_], explained: NDArray[np.bool_]) -> float:
    """
    Return how many matches stand off from where a turned camera has them, as a camera that went elsewhere leaves them.

    ``off`` is in long sides of the second frame. By less than a sway, seen in the wider frame, nobody walked; by very
    much, seen in the longer one, most are false matches that happen to lie where a moved camera could have them.
    """
    wide = off / max(ratio, 1.0)
    displaced = int((explained & (wide > _SWAY) & (wide * max(ratio, 1 / ratio) < _MISMATCH)).sum())
    return displaced / max(int(inlying.sum()) + displaced, 1)


def _weighed(
    a: Points,
    b: Points,
    inlying: NDArray[np.bool_],
    explained: NDArray[np.bool_],
    sizes: tuple[tuple[int, int], tuple[int, int]],
) -> tuple[int, str]:
    """Return the number of distinct points that agree and why that is not enough, if it is not."""
    inliers = min(_distinct(a[inlying]), _distinct(b[inlying]))
    cells = max(_cells(a[inlying], sizes[0]), _cells(b[inlying], sizes[1]))
    if inliers < _FEWEST_INLIERS or cells < _FEWEST_CELLS:
        return inliers, "no overlap found"
    if inlying.sum() < _LEAST_TURNED_SHARE * explained.sum():
        return inliers, _MOVED
    return inliers, ""


def _distinct(places: Points) -> int:
    return len(np.unique(np.floor(places / _DISTINCT_PX), axis=0)) if len(places) else 0


def _cells(places: Points, size: tuple[int, int]) -> int:
    inside = np.clip(np.floor((places / size + 0.5) * 8), 0, 7)
    return len(np.unique(inside, axis=0)) if len(places) else 0


def _local_scale(turned: NDArray[np.float64], at: Points) -> tuple[float, float]:
    """Return the scale of a homography around a place, and how much more it stretches one way than the other."""
    x, y, w = turned @ [at[0], at[1], 1.0]
    slope = np.array(
        [
            [turned[0, 0] * w - turned[2, 0] * x, turned[0, 1] * w - turned[2, 1] * x],
            [turned[1, 0] * w - turned[2, 0] * y, turned[1, 1] * w - turned[2, 1] * y],
        ]
    ) / (w * w)
    large, small = np.linalg.svd(slope, compute_uv=False)
    return float(sqrt(max(large * small, 1e-12))), float(large / max(small, 1e-12))


def _turned_ratio(turned: NDArray[np.float64], focal_px: float) -> float:
    """Return the ratio of focal lengths of a camera that only turned."""
    rows = turned @ np.diag([focal_px, focal_px, 1.0])
    lengths = np.linalg.norm(rows, axis=1)
    return float(sqrt((lengths[0] ** 2 + lengths[1] ** 2) / 2) / lengths[2] / focal_px)


def _verdict(corrected: float, plain: float, inliers: int) -> FocalRatio:
    difference = abs(log(corrected / plain))
    ratio = corrected if difference <= 0.15 else plain
    spread = max(0.015, difference / 2, 0.3 / sqrt(inliers))
    away = abs(log(ratio))
    if away > log(_ANOTHER) and away > 3 * spread:
        verdict = "another"
    elif away < log(_SAME):
        verdict = "same"
    else:
        verdict = "unknown"
    reason = "" if verdict != "unknown" else "between the same lens and another: focusing alone can do this"
    return FocalRatio(ratio, ratio * exp(-2 * spread), ratio * exp(2 * spread), verdict, reason, inliers)
