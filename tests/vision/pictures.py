"""Pictures whose blur is known exactly, drawn four times finer than they are looked at."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

FINER = 4
CELL_PX, SQUARE_PX = 80, 46.0


@lru_cache(maxsize=4)
def _drawn(side_px: int) -> NDArray[np.float32]:
    random = np.random.default_rng(11)
    fine = np.full((side_px * FINER, side_px * FINER), 60, np.float32)
    for row in range(side_px * 2 // 3 // CELL_PX):  # the rest is calm, as a sky is
        for column in range(side_px // CELL_PX):
            centre = tuple(float((place + 0.5) * CELL_PX * FINER + random.uniform(-8, 8)) for place in (column, row))
            box = cv2.boxPoints((centre, (SQUARE_PX * FINER, SQUARE_PX * FINER), float(random.uniform(0, 90))))
            cv2.fillPoly(fine, [np.round(box).astype(np.int32)], 190.0)
    return fine


def squares(side_px: int = 768, kernel: NDArray[np.float32] | None = None) -> NDArray[np.float32]:
    """Return turned squares of one grey on another, blurred by a kernel drawn at the finer scale."""
    fine = _drawn(side_px)
    if kernel is not None:
        fine = cv2.filter2D(fine, cv2.CV_32F, kernel, borderType=cv2.BORDER_REFLECT_101)
    return cv2.resize(fine, (side_px, side_px), interpolation=cv2.INTER_AREA)


def gaussian(sigma_px: float) -> NDArray[np.float32]:
    """Return a Gaussian at the finer scale."""
    line = cv2.getGaussianKernel(2 * int(np.ceil(4 * sigma_px * FINER)) + 1, sigma_px * FINER)
    return (line @ line.T).astype(np.float32)


def disc(diameter_px: float) -> NDArray[np.float32]:
    """Return an even disc at the finer scale."""
    radius = diameter_px * FINER / 2
    axis = np.arange(-int(radius) - 1, int(radius) + 2)
    inside = (axis[:, None] ** 2 + axis[None, :] ** 2 <= radius**2).astype(np.float32)
    return inside / inside.sum()


def swept(length_px: int, *, upright: bool = False) -> NDArray[np.float32]:
    """Return straight even motion, level or upright, at the finer scale."""
    line = np.full((1, length_px * FINER), 1 / (length_px * FINER), np.float32)
    return line.T if upright else line


def texture(shape: tuple[int, int] = (1024, 1024), seed: int = 4) -> NDArray[np.float32]:
    """Return noise with the 1/f spectrum of natural scenes, 0-255."""
    random = np.random.default_rng(seed)
    down, across = np.fft.fftfreq(shape[0])[:, None], np.fft.rfftfreq(shape[1])[None, :]
    frequency = np.hypot(down, across)
    frequency[0, 0] = 1
    wave = np.fft.rfft2(random.standard_normal(shape)) / frequency
    plain = np.fft.irfft2(wave, shape)
    return np.clip(128 + 45 * (plain - plain.mean()) / plain.std(), 0, 255).astype(np.float32)
