"""
The ratio of two frames' true focal lengths, from what both show.

Seen from one spot, a longer lens draws the same things larger, whatever either frame's metadata says. From two spots
it proves nothing: walking closer enlarges too. What tells them apart is how much of what a moved camera could explain
is explained by a turned one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, hypot, log, sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["LONG_SIDE_PX", "FocalRatio", "Landmarks", "focal_ratio", "landmarks", "matches"]

LONG_SIDE_PX = 1000
"""Size that a frame is reduced to before landmarks are looked for. [px]"""

USUAL_FOCAL_OVER_LONG_SIDE = 1.2
"""Focal length over the long side of the sensor where nothing is known; a normal lens. [-]"""

_MOST_LANDMARKS = 3000
_DISTINCT_PX = 3.0
_FEWEST_INLIERS, _FEWEST_CELLS = 25, 8
_LEAST_TURNED_SHARE = 0.6
_MOST_SHEAR, _MOST_DIFFERENCE = 1.5, 0.10
_ANOTHER, _SAME = 1.20, 1.15

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Landmarks:
    """
    Points of a frame that can be found again.

    Attributes
    ----------
    places : array of float, shape (n, 2)
        x and y from the frame's centre, at the reduced size. [px]
    looks : array of float32, shape (n, 128)
        What surrounds each, of unit length.
    size : tuple of int
        Reduced width and height. [px]
    """

    places: Points
    looks: NDArray[np.float32]
    size: tuple[int, int]


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


def landmarks(grey: NDArray[np.uint8], most: int = _MOST_LANDMARKS) -> Landmarks:
    """
    Find the landmarks of a frame.

    Parameters
    ----------
    grey : array of uint8, shape (height, width)
    most : int
        The strongest are kept.

    Returns
    -------
    Landmarks

    Notes
    -----
    Scale-invariant features [1]_, compared by the Hellinger distance [2]_.

    References
    ----------
    .. [1] D. G. Lowe, Distinctive image features from scale-invariant keypoints, Int. J. Comput. Vis. 60(2):91 (2004).
    .. [2] R. Arandjelović, A. Zisserman, Three things everyone should know to improve object retrieval, CVPR 2012.

    Examples
    --------
    >>> landmarks(np.zeros((300, 400), np.uint8)).places.shape
    (0, 2)
    """
    scale = LONG_SIDE_PX / max(grey.shape)
    if scale < 1:
        size = (max(1, round(grey.shape[1] * scale)), max(1, round(grey.shape[0] * scale)))
        grey = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)
    finder = cv2.SIFT.create(nfeatures=most, contrastThreshold=0.02, edgeThreshold=12)
    points, looks = finder.detectAndCompute(grey, None)
    height, width = grey.shape
    if looks is None or len(points) == 0:
        return Landmarks(np.zeros((0, 2)), np.zeros((0, 128), np.float32), (width, height))
    places = np.array([point.pt for point in points], np.float64) - [(width - 1) / 2, (height - 1) / 2]
    rooted = np.sqrt(looks / np.maximum(looks.sum(axis=1, keepdims=True), 1e-6))
    return Landmarks(places, rooted.astype(np.float32), (width, height))


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
    gives the scale of a longer lens with hundreds of matches. On a flat or very distant subject walking *is* a zoom,
    and nothing in the pixels tells. Assumes the optical axis at the centre of both frames: no shift lens, no cropping.

    References
    ----------
    .. [1] R. Hartley, A. Zisserman, Multiple View Geometry in Computer Vision, 2nd ed., sec. 8.4 and 19.
    .. [2] D. Barath, J. Noskova, M. Ivashechkin, J. Matas, MAGSAC++, CVPR 2020.

    Examples
    --------
    >>> nothing = landmarks(np.zeros((300, 400), np.uint8))
    >>> focal_ratio(nothing, nothing).reason
    'no overlap found'
    """
    a, b = matches(first, second)
    if len(a) < _FEWEST_INLIERS:
        return _untold("no overlap found", len(a))
    cv2.setRNGSeed(1)
    similar, _ = cv2.estimateAffinePartial2D(a, b, method=cv2.RANSAC, ransacReprojThreshold=16.0)
    turned, mask = cv2.findHomography(a, b, cv2.USAC_MAGSAC, 4.0, maxIters=4000, confidence=0.999)
    if similar is None or turned is None or not np.isfinite(turned).all():
        return _untold("no overlap found", 0)
    matrix, inlying = np.asarray(turned, np.float64), np.asarray(mask).ravel().astype(bool)
    inliers, reason = _weighed(a, b, inlying, (first.size, second.size))
    if reason:
        return _untold(reason, inliers)
    plain = hypot(similar[0, 0], similar[1, 0])
    scale, shear = _local_scale(matrix, a[inlying].mean(axis=0))
    if abs(log(scale / plain)) > _MOST_DIFFERENCE or shear > _MOST_SHEAR:
        return _untold("no overlap found", inliers)
    corrected = _turned_ratio(matrix, focal_over_long_side * max(first.size))
    return _verdict(corrected, plain, inliers)


def _untold(reason: str, inliers: int) -> FocalRatio:
    return FocalRatio(float("nan"), float("nan"), float("nan"), "unknown", reason, inliers)


def matches(first: Landmarks, second: Landmarks) -> tuple[Points, Points]:
    """
    Return the places of the mutual nearest landmarks that have no near rival.

    Parameters
    ----------
    first, second : Landmarks

    Returns
    -------
    tuple of array of float, shape (n, 2)
        In the first and in the second frame. [px]
    """
    if min(len(first.places), len(second.places)) < _FEWEST_INLIERS:
        return np.zeros((0, 2)), np.zeros((0, 2))
    alike = first.looks @ second.looks.T
    nearest = alike.argmax(axis=1)
    every = np.arange(len(nearest))
    mutual = alike.argmax(axis=0)[nearest] == every
    best = alike[every, nearest]
    alike[every, nearest] = -1.0
    rival = alike.max(axis=1)
    clear = (1 - best) < 0.64 * (1 - rival)  # squared distances of unit vectors: the ratio .8 squared
    kept = mutual & clear
    return first.places[kept], second.places[nearest[kept]]


def _weighed(
    a: Points, b: Points, inlying: NDArray[np.bool_], sizes: tuple[tuple[int, int], tuple[int, int]]
) -> tuple[int, str]:
    """Return the number of distinct points that agree and why that is not enough, if it is not."""
    inliers = min(_distinct(a[inlying]), _distinct(b[inlying]))
    cells = max(_cells(a[inlying], sizes[0]), _cells(b[inlying], sizes[1]))
    if inliers < _FEWEST_INLIERS or cells < _FEWEST_CELLS:
        return inliers, "no overlap found"
    _, moved = cv2.findFundamentalMat(a, b, cv2.USAC_MAGSAC, 4.0, 0.999, 4000)
    explained = int(inlying.sum()) if moved is None else int((moved.ravel() > 0).sum())
    if inlying.sum() < _LEAST_TURNED_SHARE * explained:
        return inliers, "the camera moved between the frames"
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
