"""Points of a frame that can be found again in another, and which of two frames' are the same."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["LONG_SIDE_PX", "Landmarks", "Points", "at_most", "landmarks", "matches"]

LONG_SIDE_PX = 1000
"""Size that a frame is reduced to before landmarks are looked for. [px]"""

_MOST_LANDMARKS = 3000
_FEWEST = 25

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


def at_most(grey: NDArray[np.uint8], long_side_px: int) -> NDArray[np.uint8]:
    """
    Reduce a picture to a long side; one that is no longer stays as it is.

    Examples
    --------
    >>> at_most(np.zeros((600, 900), np.uint8), 750).shape, at_most(np.zeros((6, 9), np.uint8), 750).shape
    ((500, 750), (6, 9))
    """
    scale = long_side_px / max(grey.shape)
    if scale >= 1:
        return grey
    size = (max(1, round(grey.shape[1] * scale)), max(1, round(grey.shape[0] * scale)))
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)


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
    grey = at_most(grey, LONG_SIDE_PX)
    finder = cv2.SIFT.create(nfeatures=most, contrastThreshold=0.02, edgeThreshold=12)
    points, looks = finder.detectAndCompute(grey, None)
    height, width = grey.shape
    if looks is None or len(points) == 0:
        return Landmarks(np.zeros((0, 2)), np.zeros((0, 128), np.float32), (width, height))
    places = np.array([point.pt for point in points], np.float64) - [(width - 1) / 2, (height - 1) / 2]
    rooted = np.sqrt(looks / np.maximum(looks.sum(axis=1, keepdims=True), 1e-6))
    return Landmarks(places, rooted.astype(np.float32), (width, height))


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
    if min(len(first.places), len(second.places)) < _FEWEST:
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
