"""
Whether a picture is spread along one direction: its mean log spectrum against straight motion.

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

from auditor.vision.sharpness import Grey

__all__ = ["SPECTRUM_TILE_PX", "LogSpectrum", "Motion", "log_spectrum", "motion_length_px", "straight_motion"]

SPECTRUM_TILE_PX = 256
"""Side of a tile. [px]"""

_ANGLES, _RADII = 24, 44
_LOWEST, _HIGHEST = 0.012, 0.36  # cycles/px
_FEWEST_TILES, _MOST_TILES = 6, 40
_SHARE_OF_TILES, _SHARE_OF_STRONGEST = 0.3, 0.5  # tiles out of focus hold little energy and hide the blur of the others
_LENGTHS_PX = np.geomspace(2.0, 52.0, 18)
_TURNS = 48
_FLOORS = (3e-3, 5e-2)


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


@dataclass(frozen=True)
class Motion:
    """
    The straight motion that a spectrum looks most like.

    Attributes
    ----------
    anisotropy : float
        Spread of the ripples, 0 where no direction stands out. [-]
    amplitude : float
        How strongly the motion's pattern is present; about 1 for that motion and nothing else. [-]
    explained : float
        Share of the ripples that the motion explains, 0–1. [-]
    clear : float
        Share of the spectrum that stands clear of the noise, 0–1. [-]
    direction_deg : float
        Counter-clockwise from the picture's horizontal, 0–180. [deg]
    length_px : float
        Length of the best pattern; coarse, see `motion_length_px`. [px]
    """

    anisotropy: float
    amplitude: float
    explained: float
    clear: float
    direction_deg: float
    length_px: float


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
def _radius_index() -> NDArray[np.intp]:
    down, across = np.fft.fftfreq(SPECTRUM_TILE_PX)[:, None], np.fft.rfftfreq(SPECTRUM_TILE_PX)[None, :]
    return np.asarray(np.minimum(np.hypot(down, across) * SPECTRUM_TILE_PX / 2, 63), np.intp)


def _radial_floor(power: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return power averaged over angles; low frequencies, where a flat tile still has shading, take the later level."""
    index = _radius_index()
    profile = np.bincount(index.ravel(), power.ravel()) / np.bincount(index.ravel())
    profile[:16] = np.minimum(profile[:16], profile[16])
    return np.asarray(profile[index], np.float32)


@lru_cache(maxsize=1)
def _grid() -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float64], NDArray[np.float64]]:
    """Return column and row of the grid's points in the real transform shifted to its middle row; angles; radii."""
    angles = (np.arange(_ANGLES) + 0.5) * (np.pi / _ANGLES) - np.pi / 2
    radii = np.linspace(_LOWEST, _HIGHEST, _RADII)
    columns = np.cos(angles)[:, None] * radii * SPECTRUM_TILE_PX
    rows = SPECTRUM_TILE_PX / 2 - np.sin(angles)[:, None] * radii * SPECTRUM_TILE_PX  # rows run down the picture
    return np.asarray(columns, np.float32), np.asarray(rows, np.float32), np.asarray(angles, np.float64), radii


def _on_grid(log_power: NDArray[np.float64]) -> NDArray[np.float64]:
    columns, rows, _, _ = _grid()
    shifted = np.fft.fftshift(log_power, axes=0).astype(np.float32)
    shifted[SPECTRUM_TILE_PX // 2, 0] = shifted[SPECTRUM_TILE_PX // 2, 1]
    smooth = cv2.blur(shifted, (3, 3), borderType=cv2.BORDER_REFLECT_101)
    sampled = cv2.remap(smooth, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101)
    return np.asarray(sampled, np.float64)


def _ripples(grid: NDArray[np.float64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what is left without the mean over angles and without each angle's weighted mean over radii."""
    radial = grid - grid.mean(axis=0)
    return np.asarray(radial - (radial @ weights / max(weights.sum(), 1e-9))[:, None], np.float64)


def straight_motion(spectrum: LogSpectrum) -> Motion:
    """
    Find the straight motion that the ripples look most like.

    Parameters
    ----------
    spectrum : LogSpectrum

    Returns
    -------
    Motion

    Notes
    -----
    Straight even motion of length L multiplies the spectrum by sinc²(L·f), f the frequency along it, with zeros at
    k/L [1]_; motion that slows at both ends by a Gaussian. Both
    are kept as patterns for 18 lengths, 48 directions and two depths of noise.

    References
    ----------
    .. [1] F. Krahmer, Y. Lin, B. McAdoo, K. Ott, J. Wang, D. Widemann, B. Wohlberg, Blind image deconvolution: motion
       blur estimation, IMA preprint 2133-5 (2006).

    Examples
    --------
    >>> noise = np.random.default_rng(3).integers(0, 255, (600, 600)).astype(np.float32)
    >>> swept = cv2.blur(noise, (15, 1))
    >>> found = straight_motion(log_spectrum([swept]))
    >>> min(found.direction_deg, 180 - found.direction_deg) < 4
    True
    """
    patterns, squares, lengths = _patterns()
    weights = (spectrum.weights / max(float(spectrum.weights.sum()) * _ANGLES, 1e-9)).astype(np.float32)
    ripples = np.clip(spectrum.ripples, -3.0, 3.0)
    total = float(np.sqrt((ripples**2 @ weights).sum()))
    projection = patterns.reshape(len(patterns), -1) @ (ripples * weights).ravel().astype(np.float32)
    constant = (patterns @ weights) ** 2 / max(float(weights.sum()), 1e-9)  # each angle's own mean, taken away
    norms = np.sqrt(np.maximum(squares @ weights - constant.sum(axis=1), 1e-12))
    projection = np.where(norms > _LEAST_PATTERN, projection / norms, 0.0)
    best = int(np.argmax(projection))
    explained = float(np.clip(projection[best] / max(total, 1e-9), 0, 1)) ** 2
    amplitude = float(projection[best] / norms[best])
    clear = float(spectrum.weights.mean())
    return Motion(total, amplitude, explained, clear, _peak_direction(projection, best), float(lengths[best]))


_LEAST_PATTERN = 0.02


def _peak_direction(projection: NDArray[np.floating], best: int) -> float:
    """Return the direction of the best pattern, between its two neighbours by a parabola."""
    family, turn = divmod(best, _TURNS)
    before, at, after = (float(projection[family * _TURNS + (turn + step) % _TURNS]) for step in (-1, 0, 1))
    bend = before - 2 * at + after
    aside = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return (turn + aside) * (180 / _TURNS) % 180


@lru_cache(maxsize=1)
def _patterns() -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float64]]:
    """Return patterns on angles × radii, their squares summed over angles, and lengths; directions in turn within."""
    _, _, angles, radii = _grid()
    turn = np.arange(_TURNS) * (np.pi / _TURNS)
    along = np.abs(np.cos(angles[None, :, None] - turn[:, None, None])) * radii  # direction, angle, radius
    made, lengths = [], []
    for length in _LENGTHS_PX:
        even = np.sinc(length * along) ** 2
        bell = np.exp(-((2 * np.pi * along * length) ** 2) / 12)
        for floor in _FLOORS:
            made.extend([np.log(even + floor), np.log(bell + floor)])
            lengths.extend([length, length])
    stack = np.stack(made).reshape(len(made) * turn.size, _ANGLES, _RADII)
    stack = (stack - stack.mean(axis=1, keepdims=True)).astype(np.float32)
    return stack, (stack**2).sum(axis=1), np.repeat(lengths, turn.size)


_SHORTEST_LAG_PX = 4.0  # noise that demosaicking correlated sits below


def motion_length_px(spectrum: LogSpectrum, direction_deg: float) -> tuple[float, float]:
    """
    Length of straight motion along a direction, from the cepstrum.

    Parameters
    ----------
    spectrum : LogSpectrum
    direction_deg : float
        Counter-clockwise from the horizontal. [deg]

    Returns
    -------
    tuple of float
        Length [px] and how far it stands out, in robust deviations [-].

    Notes
    -----
    The zeros at k/L are a ripple of the log spectrum, hence a deep minimum of its transform at lag L [1]_.

    References
    ----------
    .. [1] M. E. Moghaddam, M. Jamzad, Linear motion blur parameter estimation in noisy images using fuzzy sets and
       power spectrum, EURASIP J. Adv. Signal Process. 2007:068985.

    Examples
    --------
    >>> noise = np.random.default_rng(3).integers(0, 255, (600, 600)).astype(np.float32)
    >>> length, stands_out = motion_length_px(log_spectrum([cv2.blur(noise, (15, 1))]), 0.0)
    >>> round(length), stands_out > 15
    (15, True)
    """
    index = _radius_index()
    profile = np.bincount(index.ravel(), spectrum.log_power.ravel()) / np.bincount(index.ravel())
    cepstrum = np.fft.irfft2(spectrum.log_power - profile[index]).astype(np.float32)
    cepstrum = np.fft.fftshift(cepstrum)
    lags = np.arange(_SHORTEST_LAG_PX, 110.0, 0.25, dtype=np.float32)
    middle = SPECTRUM_TILE_PX / 2
    turn = np.deg2rad(direction_deg)
    columns, rows = middle + lags * np.float32(np.cos(turn)), middle - lags * np.float32(np.sin(turn))
    line = cv2.remap(cepstrum, columns[None, :].astype(np.float32), rows[None, :].astype(np.float32), cv2.INTER_LINEAR)
    away = cepstrum[: SPECTRUM_TILE_PX // 2 - 4]
    deviation = 1.4826 * float(np.median(np.abs(away - np.median(away)))) + 1e-12
    deepest = int(np.argmin(line[0]))
    return float(lags[deepest]), float(-line[0, deepest] / deviation)
