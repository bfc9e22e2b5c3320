"""
The mean log spectrum of a picture, in which blur can be told from the scene.

A picture of a blurred scene has the product of the scene's spectrum and the blur's; the logarithm makes it a sum, and
the mean over many tiles leaves the blur. What grows with frequency in one direction only is motion.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.edge_points import Grey

__all__ = ["ANGLES", "RADII", "SPECTRUM_TILE_PX", "LogSpectrum", "grid", "log_spectrum", "radius_index"]

SPECTRUM_TILE_PX = 256
"""Side of a tile. [px]"""

ANGLES, RADII = 24, 44
_LOWEST, _HIGHEST = 0.012, 0.36  # cycles/px
_FEWEST_TILES, _MOST_TILES = 6, 40
_SHARE_OF_TILES, _SHARE_OF_STRONGEST = 0.3, 0.5  # tiles out of focus hold little energy and hide the blur of the others


@dataclass(frozen=True)
class LogSpectrum:
    """
    Mean log spectrum of a picture's most detailed tiles.

    Attributes
    ----------
    log_power : array of float, shape (256, 129)
        Mean of log(power + noise), frequency 0 at the corner; real transform along columns. [-]
    ripples : array of float, shape (24, 44)
        On angles × radii, with what depends on the radius only or on the angle only taken away. [-]
    weights : array of float, shape (44,)
        How far each radius stands above the noise: 0 where it is noise, 1 where it is clear of it. [-]
    tiles : int
        How many tiles were used.
    """

    log_power: NDArray[np.float64]
    ripples: NDArray[np.float64]
    weights: NDArray[np.float64]
    tiles: int


def log_spectrum(blocks: Sequence[Grey]) -> LogSpectrum | None:
    """
    Average the log spectrum over the tiles with most detail.

    Parameters
    ----------
    blocks : sequence of array of uint8 or float32, shape (height, width)
        A picture, or blocks of it; grey levels, 0–255.

    Returns
    -------
    LogSpectrum or None
        None when all are smaller than a tile or no tile has detail.

    Notes
    -----
    Averaged log spectra for finding a blur: [1]_. Tiles are Hann-windowed; those that are clipped are left out.

    References
    ----------
    .. [1] T. M. Cannon, Blind deconvolution of spatially invariant image blurs with phase, IEEE Trans. Acoust. Speech
       Signal Process. 24(1):58 (1976).

    Examples
    --------
    >>> log_spectrum([np.zeros((512, 512), np.uint8)]) is None
    True
    """
    pictures = [block.astype(np.float32, copy=False) for block in blocks]
    tiles, energy, clipped = _tiles(pictures)
    usable = np.flatnonzero((clipped < _MOST_CLIPPED) & (energy > _LEAST_ENERGY))
    if usable.size == 0:
        return None
    order = usable[np.argsort(-energy[usable])]
    strong = int((energy[order] >= _SHARE_OF_STRONGEST * energy[order[0]]).sum())
    most = min(_MOST_TILES, max(_FEWEST_TILES, round(_SHARE_OF_TILES * len(tiles))))
    chosen = order[: min(most, max(_FEWEST_TILES, strong))]
    flattest = order[-max(1, min(4, order.size // 8)) :]
    floor = np.maximum(_radial_floor(np.mean([_power(tiles[one]) for one in flattest], axis=0)), _ROUNDING)
    log_power = np.zeros((SPECTRUM_TILE_PX, SPECTRUM_TILE_PX // 2 + 1))
    for one in chosen:
        log_power += np.log(_power(tiles[one]) + floor)
    log_power /= chosen.size
    grid = _on_grid(log_power)
    excess = (grid - _on_grid(np.log(floor))).mean(axis=0) - _LOG_NOISE_OVER_FLOOR
    weights = np.clip(excess / _CLEAR_EXCESS, 0.0, 1.0)
    return LogSpectrum(log_power, _ripples(grid, weights), weights, int(chosen.size))


# Mean of log(1 + power of noise over its mean), the power being exponentially distributed: e·E1(1).
_LOG_NOISE_OVER_FLOOR = 0.5963
_CLEAR_EXCESS = 1.5
_MOST_CLIPPED, _LEAST_ENERGY = 0.2, 0.05
# Power of rounding to whole grey levels, variance 1/12, under the Hann window.
_ROUNDING = np.float32(SPECTRUM_TILE_PX**2 * (3 / 8) ** 2 / 12)


def _tiles(
    pictures: list[NDArray[np.float32]],
) -> tuple[list[NDArray[np.float32]], NDArray[np.float64], NDArray[np.float64]]:
    """Return tiles that cover the pictures, each one's energy in the band of fine detail, and its clipped share."""
    side = SPECTRUM_TILE_PX
    whole = sum((picture.shape[0] // side) * (picture.shape[1] // side) for picture in pictures)
    step = side if whole > 2 * _MOST_TILES // 3 else side // 2  # tiles overlap by half when there are few
    tiles, energy, clipped = [], [], []
    for picture in pictures:
        levels = cv2.convertScaleAbs(picture)
        fine = cv2.blur(cv2.blur(levels, (3, 3)), (3, 3))  # a spread of 1.2 px against one of 2.6 px
        band = cv2.integral(cv2.absdiff(fine, cv2.blur(levels, (9, 9))))
        held = cv2.integral(cv2.inRange(fine, _DARK, _LIGHT))
        for top in range(0, picture.shape[0] - side + 1, step):
            for left in range(0, picture.shape[1] - side + 1, step):
                tiles.append(picture[top : top + side, left : left + side])
                energy.append(_tile_mean(band, top, left))
                clipped.append(1 - _tile_mean(held, top, left) / 255)
    return tiles, np.array(energy), np.array(clipped)


def _tile_mean(integral: NDArray[np.int32] | cv2.typing.MatLike, top: int, left: int) -> float:
    """Return the mean over a tile, from the sums over all that lies above and left of each corner."""
    bottom, right = top + SPECTRUM_TILE_PX, left + SPECTRUM_TILE_PX
    sums = np.asarray(integral)
    total = int(sums[bottom, right]) - int(sums[top, right]) - int(sums[bottom, left]) + int(sums[top, left])
    return (total % 2**32) / SPECTRUM_TILE_PX**2  # the sums of a large picture run over 32 bits, their difference not


_DARK, _LIGHT = (2.0,), (253.0,)  # outside of these a place is clipped


@lru_cache(maxsize=1)
def _window() -> NDArray[np.float32]:
    line = np.hanning(SPECTRUM_TILE_PX + 1)[:-1].astype(np.float32)
    return np.outer(line, line)


def _power(tile: NDArray[np.float32]) -> NDArray[np.float32]:
    transform = np.fft.rfft2((tile - tile.mean()) * _window())
    return np.asarray(transform.real**2 + transform.imag**2, np.float32)


@lru_cache(maxsize=1)
def radius_index() -> NDArray[np.intp]:
    """Return the ring, half a period a tile wide, that each place of the real transform lies in."""
    down, across = np.fft.fftfreq(SPECTRUM_TILE_PX)[:, None], np.fft.rfftfreq(SPECTRUM_TILE_PX)[None, :]
    return np.asarray(np.minimum(np.hypot(down, across) * SPECTRUM_TILE_PX / 2, 63), np.intp)


def _radial_floor(power: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return power averaged over angles; low frequencies, where a flat tile still has shading, take the later level."""
    index = radius_index()
    profile = np.bincount(index.ravel(), power.ravel()) / np.bincount(index.ravel())
    profile[:16] = np.minimum(profile[:16], profile[16])
    return np.asarray(profile[index], np.float32)


@lru_cache(maxsize=1)
def grid() -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float64], NDArray[np.float64]]:
    """Return column and row of the grid's points in the real transform shifted to its middle row; angles; radii."""
    angles = (np.arange(ANGLES) + 0.5) * (np.pi / ANGLES) - np.pi / 2
    radii = np.linspace(_LOWEST, _HIGHEST, RADII)
    columns = np.cos(angles)[:, None] * radii * SPECTRUM_TILE_PX
    rows = SPECTRUM_TILE_PX / 2 - np.sin(angles)[:, None] * radii * SPECTRUM_TILE_PX  # rows run down the picture
    return np.asarray(columns, np.float32), np.asarray(rows, np.float32), np.asarray(angles, np.float64), radii


def _on_grid(log_power: NDArray[np.float64]) -> NDArray[np.float64]:
    columns, rows, _, _ = grid()
    shifted = np.fft.fftshift(log_power, axes=0).astype(np.float32)
    shifted[SPECTRUM_TILE_PX // 2, 0] = shifted[SPECTRUM_TILE_PX // 2, 1]
    smooth = cv2.blur(shifted, (3, 3), borderType=cv2.BORDER_REFLECT_101)
    sampled = cv2.remap(smooth, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101)
    return np.asarray(sampled, np.float64)


def _ripples(grid: NDArray[np.float64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what is left without the mean over angles and without each angle's weighted mean over radii."""
    radial = grid - grid.mean(axis=0)
    return np.asarray(radial - (radial @ weights / max(weights.sum(), 1e-9))[:, None], np.float64)
