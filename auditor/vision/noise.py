"""
How much of a picture's detail is noise.

Noise in a developed picture depends on how bright it is, and is gone where it is clipped: one figure for a frame is
wrong somewhere in it. So noise is read from the calmest places of each brightness.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["BLOCK_PX", "noise_by_block"]

BLOCK_PX = 16
"""Side of a block. [px]"""

_CALM_PERCENT = 5.0
_BAND = 24.0  # grey levels to either side that count as the same brightness
_BLOCKS_NEEDED = 12
_MEAN_GRADIENT = 1.25  # mean length of a two-dimensional normal vector of spread 1
_RISE = 2.5


def noise_by_block(smooth: NDArray[np.float32], gradient: NDArray[np.float32]) -> NDArray[np.float32]:
    """x"""
    size = (max(1, smooth.shape[1] // BLOCK_PX), max(1, smooth.shape[0] // BLOCK_PX))
    level = cv2.resize(smooth, size, interpolation=cv2.INTER_AREA)
    change = cv2.resize(gradient, size, interpolation=cv2.INTER_AREA)
    open_ = (level > 8) & (level < 247)
    if not open_.any():
        return np.zeros(level.shape, np.float32)
    calm = float(np.percentile(change[open_], 3))
    steps = np.arange(0.0, 256.0, 8.0)
    known = []
    for step in steps:
        near = change[open_ & (np.abs(level - step) <= _BAND)]
        known.append(np.percentile(near, _CALM_PERCENT) if near.size >= _BLOCKS_NEEDED else np.nan)
    curve = np.array(known)
    good = np.isfinite(curve)
    curve = np.interp(steps, steps[good], curve[good]) if good.any() else np.full(steps.size, calm)
    curve = np.clip(curve, calm, _RISE * calm)
    return np.asarray(np.interp(level, steps, curve) / _MEAN_GRADIENT, np.float32)
