"""
The usual measures of focus and of direction, each with what noise alone adds to it.

They move with content, contrast and noise as much as with blur, so they are never compared between scenes. Inside one
scene a noise-corrected ratio ranks frames that have too few edges to be judged by `auditor.vision.sharpness`.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.edge_points import Grey

__all__ = [
    "LAPLACIAN_4_NOISE",
    "LAPLACIAN_8_NOISE",
    "TENENGRAD_NOISE",
    "coherence",
    "laplacian_variance",
    "noise_spread",
    "tenengrad",
]

LAPLACIAN_4_NOISE, LAPLACIAN_8_NOISE, TENENGRAD_NOISE = 20.0, 72.0, 24.0
"""What each measure reads on white noise of variance 1: the sum of its squared taps."""

_LAPLACIAN_8 = np.array([[1, 1, 1], [1, -8, 1], [1, 1, 1]], np.float32)


def laplacian_variance(grey: Grey, noise: float = 0.0, *, neighbours: int = 4) -> float:
    """
    Variance of the Laplacian, without what white noise adds.

    Parameters
    ----------
    grey : array of uint8 or float32, shape (height, width)
    noise : float
        Standard deviation of the noise. [grey levels]
    neighbours : int
        4 or 8.

    Returns
    -------
    float
        Not below 0. [grey levels²]

    References
    ----------
    .. [1] S. Pertuz, D. Puig, M. A. Garcia, Analysis of focus measure operators for shape-from-focus, Pattern
       Recognition 46(5):1415 (2013), operators LAP4 and LAP1.

    Examples
    --------
    >>> laplacian_variance(np.zeros((20, 20), np.float32))
    0.0
    """
    picture = grey.astype(np.float32, copy=False)
    eight = neighbours == 8
    bent = cv2.filter2D(picture, cv2.CV_32F, _LAPLACIAN_8) if eight else cv2.Laplacian(picture, cv2.CV_32F, ksize=1)
    added = (LAPLACIAN_8_NOISE if eight else LAPLACIAN_4_NOISE) * noise**2
    return max(0.0, float(bent[1:-1, 1:-1].var()) - added)


def tenengrad(grey: Grey, noise: float = 0.0) -> float:
    """
    Mean squared Sobel gradient, without what white noise adds.

    Parameters
    ----------
    grey : array of uint8 or float32, shape (height, width)
    noise : float
        Standard deviation of the noise. [grey levels]

    Returns
    -------
    float
        Not below 0. [grey levels²]

    References
    ----------
    .. [1] J. M. Tenenbaum, Accommodation in computer vision, PhD thesis, Stanford University (1970); operator GRA6 in
       Pertuz et al. 2013.

    Examples
    --------
    >>> ramp = np.tile(np.arange(20, dtype=np.float32), (20, 1))
    >>> tenengrad(ramp)
    64.0
    """
    picture = grey.astype(np.float32, copy=False)
    across, down = cv2.Sobel(picture, cv2.CV_32F, 1, 0), cv2.Sobel(picture, cv2.CV_32F, 0, 1)
    squared = cv2.multiply(across, across) + cv2.multiply(down, down)
    return max(0.0, float(squared[1:-1, 1:-1].mean()) - TENENGRAD_NOISE * noise**2)


def noise_spread(grey: Grey) -> float:
    """
    Estimate the standard deviation of white noise, from a mask that edges and slopes leave cold.

    Parameters
    ----------
    grey : array of uint8 or float32, shape (height, width)

    Returns
    -------
    float
        Median over blocks, so that texture raises it less than in the paper's mean; NaN below 3 px. [grey levels]

    References
    ----------
    .. [1] J. Immerkær, Fast noise variance estimation, Comput. Vis. Image Underst. 64(2):300 (1996).

    Examples
    --------
    >>> white = np.random.default_rng(5).normal(128, 4, (400, 400)).astype(np.float32)
    >>> round(noise_spread(white))
    4
    """
    if min(grey.shape) < 3:
        return float("nan")
    mask = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
    left = np.abs(cv2.filter2D(grey.astype(np.float32, copy=False), cv2.CV_32F, mask))[1:-1, 1:-1]
    size = (max(1, left.shape[1] // 16), max(1, left.shape[0] // 16))
    return float(np.median(cv2.resize(left, size, interpolation=cv2.INTER_AREA)) * np.sqrt(np.pi / 2) / 6)


def coherence(tensor: NDArray[np.float64]) -> float:
    """
    How much one direction outweighs the other in a structure tensor.

    Parameters
    ----------
    tensor : array of float, shape (2, 2)
        Mean of the gradient's outer product; symmetric.

    Returns
    -------
    float
        ((λ₁ − λ₂)/(λ₁ + λ₂))², 0 without direction, 1 with one direction only. [-]

    References
    ----------
    .. [1] B. Jähne, Digital Image Processing, 5th ed., sec. 13.3.

    Examples
    --------
    >>> coherence(np.array([[3.0, 0.0], [0.0, 1.0]]))
    0.25
    """
    low, high = np.linalg.eigvalsh(tensor)
    return float(((high - low) / (high + low)) ** 2) if high + low > 0 else 0.0
