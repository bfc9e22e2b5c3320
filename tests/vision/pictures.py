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


@lru_cache(maxsize=4)
def leaves(height_px: int, width_px: int, seed: int = 5) -> NDArray[np.float32]:
    """
    Return fallen leaves: discs and turned squares of many sizes and greys that cover each other.

    A. B. Lee, D. Mumford, J. Huang, Occlusion models for natural images, Int. J. Comput. Vis. 41(1):35 (2001).
    """
    random, finer = np.random.default_rng(seed), 2
    fine = np.full((height_px * finer, width_px * finer), 128, np.float32)
    for _ in range(height_px * width_px // 500):
        place = (float(random.uniform(0, width_px * finer)), float(random.uniform(0, height_px * finer)))
        size, grey = finer * min(90.0, 5.0 / float(random.uniform(0.02, 1)) ** 0.7), float(random.uniform(20, 235))
        box = cv2.boxPoints((place, (size, size * float(random.uniform(0.5, 1))), float(random.uniform(0, 180))))
        cv2.fillPoly(fine, [np.round(box).astype(np.int32)], grey)
    return cv2.resize(fine, (width_px, height_px), interpolation=cv2.INTER_AREA)


def someone(
    scene: NDArray[np.float32], place: tuple[int, int], kernel: NDArray[np.float32] | None = None, seed: int = 77
) -> NDArray[np.float32]:
    """Return a scene with something round of other leaves at a place (x, y), 400 px in radius, spread by a kernel."""
    mask, light = np.zeros_like(scene), leaves(*scene.shape, seed)
    cv2.circle(mask, place, 400, 1.0, -1)
    held = mask * np.roll(light, (place[1], place[0]), (0, 1))  # it takes its looks along
    if kernel is not None:
        mask, held = (cv2.filter2D(one, cv2.CV_32F, kernel, borderType=cv2.BORDER_REFLECT_101) for one in (mask, held))
    return held + (1 - mask) * scene


def level_motion(length_px: int) -> NDArray[np.float32]:
    """Return straight even motion, level, at the scale of the pixels."""
    return np.full((1, length_px), 1 / length_px, np.float32)
