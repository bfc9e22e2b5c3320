"""
Whether a picture is spread along one direction: its mean log spectrum against straight motion.

A picture of a blurred scene has the product of the scene's spectrum and the blur's; the logarithm makes it a sum, and
the mean over many tiles leaves the blur. What grows with frequency in one direction only is motion.
"""

from __future__ import annotations

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
_LENGTHS_PX = np.geomspace(2.0, 52.0, 24)
_FLOORS = (1e-3, 1e-2, 1e-1)


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
    tiles : int
        How many tiles were used.
    """

    log_power: NDArray[np.float64]
    ripples: NDArray[np.float64]
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
    direction_deg : float
        Counter-clockwise from the picture's horizontal, 0–180. [deg]
    length_px : float
        Length of the best pattern; coarse, see `motion_length_px`. [px]
    """

    anisotropy: float
    amplitude: float
    explained: float
    direction_deg: float
    length_px: float


def log_spectrum(grey: Grey) -> LogSpectrum | None:
    """
    Average the log spectrum over the tiles with most detail.

    Parameters
    ----------
    grey : array of uint8 or float32, shape (height, width)
        Grey levels, 0–255.

    Returns
    -------
    LogSpectrum or None
        None when the picture is smaller than a tile or no tile has detail.

    Notes
    -----
    Averaged log spectra for finding a blur: [1]_. Tiles are Hann-windowed; those that are clipped are left out.

    References
    ----------
    .. [1] T. M. Cannon, Blind deconvolution of spatially invariant image blurs with phase, IEEE Trans. Acoust. Speech
       Signal Process. 24(1):58 (1976).

    Examples
    --------
    >>> log_spectrum(np.zeros((512, 512), np.uint8)) is None
    True
    """
    picture = grey.astype(np.float32, copy=False)
    corners = _tile_corners(picture.shape)
    if not corners:
        return None
    energy, clipped = _band_energy(picture, corners)
    usable = np.flatnonzero((clipped < 0.2) & (energy > 0.05))
    if usable.size == 0:
        return None
    order = usable[np.argsort(-energy[usable])]
    chosen = order[: int(np.clip(round(0.3 * len(corners)), _FEWEST_TILES, _MOST_TILES))]
    flattest = order[-max(1, min(4, order.size // 8)) :]
    floor = np.maximum(_radial_floor(np.mean([_power(picture, corners[one]) for one in flattest], axis=0)), _ROUNDING)
    log_power = np.zeros((SPECTRUM_TILE_PX, SPECTRUM_TILE_PX // 2 + 1))
    for one in chosen:
        log_power += np.log(_power(picture, corners[one]) + floor)
    log_power /= chosen.size
    return LogSpectrum(log_power, _ripples(_on_grid(log_power)), int(chosen.size))


# Power of rounding to whole grey levels, variance 1/12, under the Hann window.
_ROUNDING = np.float32(SPECTRUM_TILE_PX**2 * (3 / 8) ** 2 / 12)


def _tile_corners(shape: tuple[int, ...]) -> list[tuple[int, int]]:
    """Return top-left corners of tiles that cover the picture; they overlap by half when the picture is small."""
    side = SPECTRUM_TILE_PX
    step = side if (shape[0] // side) * (shape[1] // side) > 2 * _MOST_TILES // 3 else side // 2
    return [(top, left) for top in range(0, shape[0] - side + 1, step) for left in range(0, shape[1] - side + 1, step)]


def _band_energy(picture: NDArray[np.float32], corners: list[tuple[int, int]]) -> tuple[NDArray[np.float64], ...]:
    """Return each tile's energy between two blurs, and the share of it that is clipped."""
    small = cv2.GaussianBlur(picture, (0, 0), 1.0)
    band = np.abs(small - cv2.GaussianBlur(picture, (0, 0), 2.5))
    side = SPECTRUM_TILE_PX // 16
    band = cv2.resize(band, (picture.shape[1] // 16, picture.shape[0] // 16), interpolation=cv2.INTER_AREA)
    flat = ((small > 253) | (small < 2)).astype(np.float32)
    flat = cv2.resize(flat, (picture.shape[1] // 16, picture.shape[0] // 16), interpolation=cv2.INTER_AREA)
    energy = np.array([float(band[t // 16 : t // 16 + side, n // 16 : n // 16 + side].mean()) for t, n in corners])
    clipped = np.array([float(flat[t // 16 : t // 16 + side, n // 16 : n // 16 + side].mean()) for t, n in corners])
    return energy, clipped


@lru_cache(maxsize=1)
def _window() -> NDArray[np.float32]:
    line = np.hanning(SPECTRUM_TILE_PX + 1)[:-1].astype(np.float32)
    return np.outer(line, line)


def _power(picture: NDArray[np.float32], corner: tuple[int, int]) -> NDArray[np.float32]:
    tile = picture[corner[0] : corner[0] + SPECTRUM_TILE_PX, corner[1] : corner[1] + SPECTRUM_TILE_PX]
    transform = np.fft.rfft2((tile - tile.mean()) * _window())
    return np.asarray(transform.real**2 + transform.imag**2, np.float32)


@lru_cache(maxsize=1)
def _radius_index() -> NDArray[np.intp]:
    down, across = np.fft.fftfreq(SPECTRUM_TILE_PX)[:, None], np.fft.rfftfreq(SPECTRUM_TILE_PX)[None, :]
    return np.minimum((np.hypot(down, across) * SPECTRUM_TILE_PX / 2).astype(np.intp), 63)


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
    return columns.astype(np.float32), rows.astype(np.float32), angles, radii


def _on_grid(log_power: NDArray[np.float64]) -> NDArray[np.float64]:
    columns, rows, _, _ = _grid()
    shifted = np.fft.fftshift(log_power, axes=0).astype(np.float32)
    shifted[SPECTRUM_TILE_PX // 2, 0] = shifted[SPECTRUM_TILE_PX // 2, 1]
    smooth = cv2.blur(shifted, (3, 3), borderType=cv2.BORDER_REFLECT_101)
    sampled = cv2.remap(smooth, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT_101)
    return np.asarray(sampled, np.float64)


def _ripples(grid: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what is left when means over angles and over radii are taken away in turn."""
    radial = grid - grid.mean(axis=-2, keepdims=True)
    return np.asarray(radial - radial.mean(axis=-1, keepdims=True), np.float64)


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
    k/L [1]_; motion that slows at both ends by a Gaussian. Both are kept as patterns for 24 lengths, 48 directions and three depths of noise.

    References
    ----------
    .. [1] F. Krahmer, Y. Lin, B. McAdoo, K. Ott, J. Wang, D. Widemann, B. Wohlberg, Blind image deconvolution: motion
       blur estimation, IMA preprint 2133-5 (2006).

    Examples
    --------
    >>> noise = np.random.default_rng(3).integers(0, 255, (600, 600)).astype(np.float32)
    >>> swept = cv2.blur(noise, (15, 1))
    >>> found = straight_motion(log_spectrum(swept))
    >>> min(found.direction_deg, 180 - found.direction_deg) < 4
    True
    """
    patterns, norms, directions, lengths = _patterns()
    ripples = np.clip(spectrum.ripples, -3.0, 3.0).ravel()
    total = float(np.sqrt(np.mean(ripples**2)))
    projection = patterns @ ripples.astype(np.float32) / ripples.size
    best = int(np.argmax(projection))
    explained = float(np.clip(projection[best] / max(total, 1e-9), 0, 1)) ** 2
    amplitude = float(projection[best] / norms[best])
    return Motion(total, amplitude, explained, float(directions[best]), float(lengths[best]))


@lru_cache(maxsize=1)
def _patterns() -> tuple[NDArray[np.float32], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return patterns of unit strength, their strengths before that, directions and lengths."""
    _, _, angles, radii = _grid()
    turn = np.arange(48) * (np.pi / 48)
    along = np.abs(np.cos(angles[None, :, None] - turn[:, None, None])) * radii  # direction, angle, radius
    made, lengths = [], []
    for length in _LENGTHS_PX:
        even = np.sinc(length * along) ** 2
        bell = np.exp(-((2 * np.pi * along * length) ** 2) / 12)
        for floor in _FLOORS:
            made.extend([np.log(even + floor), np.log(bell + floor)])
            lengths.extend([length, length])
    stack = _ripples(np.stack(made)).reshape(len(made) * turn.size, -1)
    norms = np.sqrt(np.mean(stack**2, axis=1))
    return (
        (stack / norms[:, None]).astype(np.float32),
        norms,
        np.tile(np.rad2deg(turn), len(made)),
        np.repeat(lengths, turn.size),
    )


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
    >>> length, stands_out = motion_length_px(log_spectrum(cv2.blur(noise, (15, 1))), 0.0)
    >>> round(length), stands_out > 15
    (15, True)
    """
    index = _radius_index()
    profile = np.bincount(index.ravel(), spectrum.log_power.ravel()) / np.bincount(index.ravel())
    cepstrum = np.fft.irfft2(spectrum.log_power - profile[index]).astype(np.float32)
    cepstrum = np.fft.fftshift(cepstrum)
    lags = np.arange(3.0, 110.0, 0.25, dtype=np.float32)
    middle = SPECTRUM_TILE_PX / 2
    turn = np.deg2rad(direction_deg)
    columns, rows = middle + lags * np.float32(np.cos(turn)), middle - lags * np.float32(np.sin(turn))
    line = cv2.remap(cepstrum, columns[None, :].astype(np.float32), rows[None, :].astype(np.float32), cv2.INTER_LINEAR)
    away = cepstrum[: SPECTRUM_TILE_PX // 2 - 4]
    deviation = 1.4826 * float(np.median(np.abs(away - np.median(away)))) + 1e-12
    deepest = int(np.argmin(line[0]))
    return float(lags[deepest]), float(-line[0, deepest] / deviation)
