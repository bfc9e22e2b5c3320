"""The width of an edge, from the slope that it shows."""

from __future__ import annotations

from math import erf, sqrt

import numpy as np

from auditor.vision.edge_points import REACH_PX, SMOOTHING_PX
from auditor.vision.sharpness import EdgeSlopes

__all__ = ["edge_width_px", "gaussian_edge_slope", "sharp_fraction"]

_TEN_TO_NINETY = 2.5631031310892007  # 2 × the 90 % point of the standard normal distribution
_WIDEST_PX, _TRUSTED_PX = 12.0, 5.0
_PIXEL_PX = 0.8  # 10-90 % width of an edge that only the pixel's own width blurs


def gaussian_edge_slope(width_px: float) -> float:
    """
    Slope that an edge blurred by a Gaussian shows to `auditor.vision.sharpness.edge_slopes`.

    Parameters
    ----------
    width_px : float
        10–90 % width of the edge in the picture, 2.563 σ. [px]

    Returns
    -------
    float
        Steepest central difference over the range within 4 px, after that module's smoothing. [1/px]

    Notes
    -----
    Exact for an edge along rows or columns that falls on a pixel's centre. Tends to 1/8 for very wide edges, whose
    range no longer fits the window: a slope near that says only "wide".

    Examples
    --------
    >>> round(gaussian_edge_slope(0.0), 3), round(gaussian_edge_slope(5.126), 3), round(gaussian_edge_slope(60.0), 3)
    (0.423, 0.193, 0.126)
    """
    sigma = sqrt((width_px / _TEN_TO_NINETY) ** 2 + SMOOTHING_PX**2) * sqrt(2)
    return 0.5 * erf(1 / sigma) / erf(REACH_PX / sigma)


def edge_width_px(slopes: list[float], scale: float = 1.0) -> float:
    """
    Width of the edges that show these slopes.

    Parameters
    ----------
    slopes : list of float
        Slope at the picture's own scale, then at each halving. [1/px]
    scale : float
        Pixels of the full picture in one pixel of the finest scale given. [-]

    Returns
    -------
    float
        10–90 % width of the Gaussian-blurred edge with this slope; NaN when the first slope is. [px, full picture]

    Notes
    -----
    The width is read at the finest scale where the slope still tells widths apart, and on a coarser one when the edge
    no longer fits the window; it is never less than a pixel's own .8. Read at half size, widths below 3 px come out
    low. Other blurs read between their own 10–90 % width and that of the Gaussian with their steepest slope: straight
    motion of length L between .80 L and 1.02 L, a disc of diameter d between .69 d and .80 d. Thin lines read narrower
    than edges.

    Examples
    --------
    >>> round(edge_width_px([gaussian_edge_slope(3.0)]), 2)
    3.0
    >>> round(edge_width_px([gaussian_edge_slope(3.0)], scale=2.0), 2)
    6.0
    """
    if not slopes or np.isnan(slopes[0]):
        return float("nan")
    widths = np.linspace(0.0, _WIDEST_PX, 241)
    falling = np.array([gaussian_edge_slope(float(width)) for width in widths])
    read = [float(np.interp(-slope, -falling, widths)) * 2**level for level, slope in enumerate(slopes)]
    fits = [level for level, slope in enumerate(slopes) if slope > gaussian_edge_slope(_TRUSTED_PX)]
    finite = [width for width in read if np.isfinite(width)]
    return float(max(read[fits[0]] if fits else finite[-1], _PIXEL_PX) * scale)


def sharp_fraction(slopes: EdgeSlopes) -> float:
    """
    Share of the judged tiles that are about as crisp as the crispest: within a sixth of its slope.

    Examples
    --------
    >>> tiles = np.array([[0.30, 0.29, np.nan, 0.15]])
    >>> from auditor.vision.sharpness import Orientations
    >>> alike = Orientations(0.3, 0.0, 0.0)
    >>> round(sharp_fraction(EdgeSlopes(0.30, alike, alike, tiles, 1.0)), 2)
    0.67
    """
    judged = slopes.tiles[np.isfinite(slopes.tiles)]
    if judged.size == 0 or np.isnan(slopes.crispest):
        return float("nan")
    return float(np.mean(judged >= slopes.crispest * (5 / 6)))
