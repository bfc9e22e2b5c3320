"""The hand: how far the camera turns during an exposure, and how likely that is too far."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.special import roots_hermitenorm

from auditor.constants import (
    HAND_EXPONENT,
    HAND_SHAKE_MRAD,
    HAND_SPREAD_STOPS,
    RAYLEIGH_MEDIAN,
    REFERENCE_TIME_S,
)
from auditor.optics.arrays import ArrayLike, FloatArray, FloatLike, floats, plain, positive

__all__ = [
    "blur_probability",
    "exposure_time_for_sharp_s",
    "image_shake_um",
    "shake_blur_um",
    "shake_sigma_mrad",
    "sharp_probability",
]

# The table runs over ln(c²/2σ²): below it every frame is blurred, above it every frame is sharp.
_LOW, _HIGH, _POINTS, _NODES = -40.0, 40.0, 4001, 160


def shake_sigma_mrad(
    exposure_time_s: ArrayLike, shake_mrad: ArrayLike = HAND_SHAKE_MRAD, exponent: ArrayLike = HAND_EXPONENT
) -> FloatLike:
    """
    Turn of a hand-held camera during an exposure, per axis.

    Parameters
    ----------
    exposure_time_s : float or array
        Exposure time. [s]
    shake_mrad : float or array
        The photographer's shake at 1/60 s, per axis. [mrad]
    exponent : float or array
        How it grows with time, H. [-]

    Returns
    -------
    float or array
        Standard deviation a (t/t0)^H with t0 = 1/60 s, broadcast; NaN where the time is not known. [mrad]

    Notes
    -----
    A power law holds only locally: valid within about a decade of exposure times, 0.5 < H ≤ 1. The defaults are
    judgement: no published spread between people was found.

    References
    ----------
    .. [1] ISO 20954-1:2019, 3.6 tabulates such an angle over exposure time (values not seen). The law is ours.

    Examples
    --------
    >>> shake_sigma_mrad(1 / 60, 0.29)
    0.29
    >>> round(shake_sigma_mrad(1 / 30, 0.29, 1.0), 6)
    0.58
    """
    return plain(floats(shake_mrad) * (positive(exposure_time_s) / REFERENCE_TIME_S) ** floats(exponent))


def image_shake_um(right_mm: ArrayLike, sigma_mrad: ArrayLike, left: ArrayLike = 1.0) -> FloatLike:
    """
    Shake on the sensor, per axis.

    Parameters
    ----------
    right_mm : float or array
        Image-side distance v, the right setting. [mm]
    sigma_mrad : float or array
        Turn of the camera, per axis. [mrad]
    left : float or array
        Residual of the stabiliser; 1 without. [-]

    Returns
    -------
    float or array
        Standard deviation v r σ, broadcast. [µm]

    Notes
    -----
    Valid on the axis for rotation; mm × mrad = µm.

    References
    ----------
    .. [1] Derived: a turn θ moves the image by v tan θ.

    Examples
    --------
    >>> image_shake_um(100.0, 1.5)
    150.0
    """
    return plain(positive(right_mm) * floats(left) * floats(sigma_mrad))


def shake_blur_um(image_sigma_um: ArrayLike) -> FloatLike:
    """
    Length of the shake's trace on the sensor, expected (median).

    Parameters
    ----------
    image_sigma_um : float or array
        Shake on the sensor, per axis, as from `image_shake_um`. [µm]

    Returns
    -------
    float or array
        √(2 ln 2) σ, broadcast. [µm]

    Notes
    -----
    Valid for two axes that shake alike and independently, whose displacement follows a Rayleigh law; the spread of
    steadiness between frames leaves the median where it is to 4 % for 0.5 stop.

    References
    ----------
    .. [1] Median of the Rayleigh distribution (standard).

    Examples
    --------
    >>> round(shake_blur_um(10.0), 3)
    11.774
    """
    return plain(RAYLEIGH_MEDIAN * floats(image_sigma_um))


@lru_cache(maxsize=64)
def _sharp_table(spread_stops: float) -> CubicSpline:
    nodes, weights = roots_hermitenorm(_NODES)
    grid = np.linspace(_LOW, _HIGH, _POINTS)
    shifted = grid[:, np.newaxis] - 2.0 * np.log(2.0) * spread_stops * nodes
    return CubicSpline(grid, -np.expm1(-np.exp(np.clip(shifted, -700.0, 700.0))) @ (weights / weights.sum()))


def sharp_probability(tolerance_um: ArrayLike, image_sigma_um: ArrayLike, spread_stops: float = 0.0) -> FloatLike:
    """
    Probability that shake stays within the tolerated blur.

    Parameters
    ----------
    tolerance_um : float or array
        Tolerated blur. [µm]
    image_sigma_um : float or array
        Shake on the sensor, per axis. [µm]
    spread_stops : float
        How much steadiness differs from frame to frame, standard deviation. [stop]

    Returns
    -------
    float or array
        P(B ≤ c), broadcast, 0-1; NaN where an input is not known. [-]

    Notes
    -----
    Without spread 1 - exp(-c²/2σ²); with it, the mean over σ 2^η, η normal, from a table good to 1e-6 that a million
    rows read in a fraction of a second. Valid for spreads of 0 to 3 stops.

    References
    ----------
    .. [1] Rayleigh distribution (standard); Gauss-Hermite quadrature.

    Examples
    --------
    >>> round(sharp_probability(28.84, 17.4533), 3)
    0.745
    """
    with np.errstate(divide="ignore"):
        hardness = 2.0 * np.log(positive(tolerance_um) / np.where(floats(image_sigma_um) >= 0, image_sigma_um, np.nan))
    hardness = hardness - np.log(2.0)
    if spread_stops == 0.0:
        with np.errstate(over="ignore"):
            return plain(-np.expm1(-np.exp(hardness)))
    table = _sharp_table(round(float(spread_stops), 9))
    return plain(np.clip(table(np.clip(hardness, _LOW, _HIGH)), 0.0, 1.0))


def blur_probability(tolerance_um: ArrayLike, image_sigma_um: ArrayLike, spread_stops: float = 0.0) -> FloatLike:
    """
    Probability that shake passes the tolerated blur.

    Parameters
    ----------
    tolerance_um : float or array
        Tolerated blur. [µm]
    image_sigma_um : float or array
        Shake on the sensor, per axis. [µm]
    spread_stops : float
        How much steadiness differs from frame to frame, standard deviation. [stop]

    Returns
    -------
    float or array
        P(B > c), broadcast, 0-1; NaN where an input is not known. [-]

    Notes
    -----
    Valid as `sharp_probability`, of which it is the rest.

    References
    ----------
    .. [1] Rayleigh distribution (standard); Gauss-Hermite quadrature.

    Examples
    --------
    >>> round(blur_probability(28.84, 40.84), 3)
    0.779
    """
    return plain(1.0 - floats(sharp_probability(tolerance_um, image_sigma_um, spread_stops)))


def _hardness_for(probability: FloatArray, spread_stops: float) -> FloatArray:
    if spread_stops == 0.0:
        return np.log(-np.log1p(-probability))
    grid = np.linspace(_LOW, _HIGH, _POINTS)
    # np.interp wants a rising table; the flat ends, where rounding makes steps, are outside any probability asked for.
    rising = np.maximum.accumulate(_sharp_table(round(float(spread_stops), 9))(grid))
    return np.interp(probability, rising, grid)


def exposure_time_for_sharp_s(
    probability: ArrayLike,
    tolerance_um: ArrayLike,
    right_mm: ArrayLike,
    *,
    left: ArrayLike = 1.0,
    hand: tuple[ArrayLike, ArrayLike, float] = (HAND_SHAKE_MRAD, HAND_EXPONENT, HAND_SPREAD_STOPS),
) -> FloatLike:
    """
    Slowest exposure time at which a share of the frames is sharp.

    Parameters
    ----------
    probability : float or array
        Share of sharp frames wanted, above 0 and below 1. [-]
    tolerance_um : float or array
        Tolerated blur. [µm]
    right_mm : float or array
        Image-side distance v, the right setting. [mm]
    left : float or array
        Residual of the stabiliser; 1 without. [-]
    hand : (shake_mrad, exponent, spread_stops)
        The photographer's hand: a at 1/60 s per axis [mrad], H [-], spread [stop].

    Returns
    -------
    float or array
        Exposure time, broadcast; NaN where an input is not known or the probability is out of range. [s]

    Notes
    -----
    Inverse of `sharp_probability` over time. Valid where the power law is: about a decade around 1/60 s; with a
    stabiliser it reaches further out and is a plan, to be tested.

    References
    ----------
    .. [1] P(B ≤ c) = 1 - exp(-c²/2σ²) with σ = v r a (t/t0)^H, solved for t.

    Examples
    --------
    >>> round(1 / exposure_time_for_sharp_s(0.5, 28.84, 50.0, hand=(0.29, 1.0, 0.0)), 1)
    35.5
    """
    shake_mrad, exponent, spread_stops = hand
    wanted = floats(probability)
    wanted = np.where((wanted > 0) & (wanted < 1), wanted, np.nan)
    hardness = _hardness_for(wanted, spread_stops)
    sigma_um = positive(tolerance_um) / np.sqrt(2.0 * np.exp(hardness))
    sigma_mrad = sigma_um / (positive(right_mm) * positive(left))
    return plain(REFERENCE_TIME_S * (sigma_mrad / floats(shake_mrad)) ** (1.0 / floats(exponent)))
