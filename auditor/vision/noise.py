"""
How much of a picture's detail is noise.

Noise in a developed picture depends on how bright it is, and is gone where it is clipped: one figure for a frame is
wrong somewhere in it. So noise is read from the calmest places of each brightness.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["BLOCK_PX", "blocks_of", "noise_of_blocks"]

BLOCK_PX = 16
"""Side of a block. [px]"""

_DARKEST, _BRIGHTEST = 8.0, 247.0
_CALMEST_PERCENT, _CALM_PERCENT = 3.0, 5.0
_STEP, _BAND = 8.0, 24.0  # grey levels; how far to either side counts as the same brightness
_BLOCKS_NEEDED = 12
_MEAN_GRADIENT = 1.25  # mean length of a two-dimensional normal vector of spread 1
_MOST_NOISE = 5.0  # more is texture: a frame full of gravel has no calm place
_MOST_RISE = 2.5  # textured places of one brightness are not taken for noise altogether


def blocks_of(
    smooth: NDArray[np.float32], gradient: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """
    Average grey level and gradient over blocks.

    Parameters
    ----------
    smooth, gradient : array of float32, shape (height, width)

    Returns
    -------
    tuple of array of float32, shape (rows, columns)

    Examples
    --------
    >>> level, change = blocks_of(np.full((32, 48), 9.0, np.float32), np.zeros((32, 48), np.float32))
    >>> level.shape, float(level.max()), float(change.max())
    ((2, 3), 9.0, 0.0)
    """
    return _averaged(smooth), _averaged(gradient)


def _averaged(picture: NDArray[np.float32]) -> NDArray[np.float32]:
    """Average over whole blocks: what is left over at the ends is not worth the ninefold time that a stretch takes."""
    rows, columns = (max(1, side // BLOCK_PX) for side in picture.shape)
    whole = picture[: rows * BLOCK_PX, : columns * BLOCK_PX]
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA), np.float32)


def noise_of_blocks(level: NDArray[np.float32], change: NDArray[np.float32]) -> NDArray[np.float32]:
    """
    Estimate the gradient that noise alone would show in each block.

    Parameters
    ----------
    level, change : array of float32, shape (rows, columns)
        As `blocks_of` gives them.

    Returns
    -------
    array of float32, shape (rows, columns)
        [grey levels/px]

    Notes
    -----
    The calmest blocks hold noise only [1]_; here by brightness, as noise follows the signal.

    References
    ----------
    .. [1] S. I. Olsen, Estimation of noise in images: an evaluation, CVGIP: Graph. Models Image Process. 55(4):319
       (1993).

    Examples
    --------
    >>> float(noise_of_blocks(np.full((4, 5), 99.0), np.full((4, 5), 2.5)).max())
    2.0
    """
    held = (level > _DARKEST) & (level < _BRIGHTEST)
    if not held.any():
        return np.zeros(level.shape, np.float32)
    calm = min(float(np.percentile(change[held], _CALMEST_PERCENT)), _MOST_NOISE)
    steps = np.arange(0.0, 256.0, _STEP)
    near = [change[held & (np.abs(level - step) <= _BAND)] for step in steps]
    known = np.array([np.percentile(some, _CALM_PERCENT) if some.size >= _BLOCKS_NEEDED else np.nan for some in near])
    good = np.isfinite(known)
    curve = np.interp(steps, steps[good], known[good]) if good.any() else np.full(steps.size, calm)
    return np.asarray(
        np.interp(level, steps, np.clip(curve, calm, min(_MOST_RISE * calm, _MOST_NOISE))) / _MEAN_GRADIENT, np.float32
    )
