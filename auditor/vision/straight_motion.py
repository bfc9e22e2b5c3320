"""Whether a picture is spread along one direction: its mean log spectrum against straight motion."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.spectrum import ANGLES, RADII, SPECTRUM_TILE_PX, LogSpectrum, grid, radius_index

__all__ = ["Motion", "motion_length_px", "straight_motion"]

_LENGTHS_PX = np.geomspace(2.0, 52.0, 18)
_TURNS = 48
_FLOORS = (3e-3, 5e-2)


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
    >>> from auditor.vision.spectrum import log_spectrum
    >>> noise = np.random.default_rng(3).integers(0, 255, (600, 600)).astype(np.float32)
    >>> swept = cv2.blur(noise, (15, 1))
    >>> found = straight_motion(log_spectrum([swept]))
    >>> min(found.direction_deg, 180 - found.direction_deg) < 4
    True
    """
    patterns, squares, lengths = _patterns()
    weights = (spectrum.weights / max(float(spectrum.weights.sum()) * ANGLES, 1e-9)).astype(np.float32)
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
    _, _, angles, radii = grid()
    turn = np.arange(_TURNS) * (np.pi / _TURNS)
    along = np.abs(np.cos(angles[None, :, None] - turn[:, None, None])) * radii  # direction, angle, radius
    made, lengths = [], []
    for length in _LENGTHS_PX:
        even = np.sinc(length * along) ** 2
        bell = np.exp(-((2 * np.pi * along * length) ** 2) / 12)
        for floor in _FLOORS:
            made.extend([np.log(even + floor), np.log(bell + floor)])
            lengths.extend([length, length])
    stack = np.stack(made).reshape(len(made) * turn.size, ANGLES, RADII)
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
    >>> from auditor.vision.spectrum import log_spectrum
    >>> noise = np.random.default_rng(3).integers(0, 255, (600, 600)).astype(np.float32)
    >>> length, stands_out = motion_length_px(log_spectrum([cv2.blur(noise, (15, 1))]), 0.0)
    >>> round(length), stands_out > 15
    (15, True)
    """
    index = radius_index()
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
