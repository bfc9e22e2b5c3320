"""Whether two frames show the same thing: small grey pictures of them, laid over each other."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.edge_points import Grey

__all__ = ["SMALL_SIDE_PX", "likeness", "small_picture"]

SMALL_SIDE_PX = 32
"""Long side of the small picture. [px]"""

_SHIFTS = range(-3, 4)


def small_picture(grey: Grey) -> NDArray[np.uint8]:
    """
    Reduce a frame to what is alike in frames of one scene, whatever their blur.

    Parameters
    ----------
    grey : array of uint8, shape (height, width)

    Returns
    -------
    array of uint8, shape (height, width)
        Long side 32.

    Examples
    --------
    >>> small_picture(np.zeros((400, 600), np.uint8)).shape
    (21, 32)
    """
    scale = SMALL_SIDE_PX / max(grey.shape)
    size = (max(1, round(grey.shape[1] * scale)), max(1, round(grey.shape[0] * scale)))
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)


def likeness(first: NDArray[np.uint8], second: NDArray[np.uint8]) -> float:
    """
    Correlate two small pictures at the shift that suits them best.

    Parameters
    ----------
    first, second : array of uint8, shape (height, width)
        As `small_picture` gives them.

    Returns
    -------
    float
        Zero-mean normalised cross-correlation, −1 to 1; exposure does not matter. 0 when the shapes differ. [-]

    References
    ----------
    .. [1] J. P. Lewis, Fast template matching, Vision Interface 95, p. 120 (1995).

    Examples
    --------
    >>> ramp = np.tile(np.arange(0, 128, 4, dtype=np.uint8), (21, 1))
    >>> round(likeness(ramp, ramp + 9), 3)
    1.0
    """
    if first.shape != second.shape:
        return 0.0
    best = -1.0
    height, width = first.shape
    for down in _SHIFTS:
        for across in _SHIFTS:
            a = first[max(0, down) : height + min(0, down), max(0, across) : width + min(0, across)]
            b = second[max(0, -down) : height + min(0, -down), max(0, -across) : width + min(0, -across)]
            best = max(best, _correlation(a.astype(np.float64), b.astype(np.float64)))
    return best


def _correlation(a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    a, b = a - a.mean(), b - b.mean()
    scale = float(np.sqrt((a**2).sum() * (b**2).sum()))
    return float((a * b).sum() / scale) if scale > 0 else 0.0
