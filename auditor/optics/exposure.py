"""Light and time: exposure values and subjects that move."""

from __future__ import annotations

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = ["NOMINAL_TIMES_S", "exposure_value", "freezing_time_s", "nominal_time_s", "scene_ev100", "subject_motion_um"]

NOMINAL_TIMES_S = tuple(
    1.0 / n
    for n in (8000, 6400, 5000, 4000, 3200, 2500, 2000, 1600, 1250, 1000, 800, 640, 500, 400, 320, 250, 200, 160, 125,
              100, 80, 60, 50, 40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4, 3, 2.5, 2, 1.6, 1.3, 1)
)  # fmt: skip
"""Exposure times as cameras name them, in thirds of a stop, 1/8000 s to 1 s (common practice). [s]"""


def exposure_value(f_number: ArrayLike, exposure_time_s: ArrayLike) -> FloatLike:
    """
    Exposure value of an f-number and a time.

    Parameters
    ----------
    f_number : float or array
        F-number, adapter factor included. [-]
    exposure_time_s : float or array
        Exposure time. [s]

    Returns
    -------
    float or array
        log2(N²/t), broadcast; NaN where the f-number is not known. [EV]

    Notes
    -----
    Valid for N, t > 0. A lens without contacts leaves Exif FNumber empty: log the aperture or this stays unknown.

    References
    ----------
    .. [1] "Exposure value", Wikipedia.

    Examples
    --------
    >>> round(exposure_value(16.0, 1 / 125), 3)
    14.966
    """
    return plain(np.log2(positive(f_number) ** 2 / positive(exposure_time_s)))


def scene_ev100(f_number: ArrayLike, exposure_time_s: ArrayLike, photographic_sensitivity: ArrayLike) -> FloatLike:
    """
    Brightness of the scene, as the exposure value at ISO 100.

    Parameters
    ----------
    f_number : float or array
        F-number, adapter factor included. [-]
    exposure_time_s : float or array
        Exposure time. [s]
    photographic_sensitivity : float or array
        Exif PhotographicSensitivity. [ISO]

    Returns
    -------
    float or array
        log2(N²/t) - log2(ISO/100), broadcast. [EV]

    Notes
    -----
    Valid where the frame was exposed as metered.

    References
    ----------
    .. [1] APEX, as set out by D. Kerr (2007).

    Examples
    --------
    >>> round(scene_ev100(2.0, 1 / 60, 1600), 3)
    3.907
    """
    value = np.asarray(exposure_value(f_number, exposure_time_s))
    return plain(value - np.log2(positive(photographic_sensitivity) / 100.0))


def subject_motion_um(speed_m_s: ArrayLike, exposure_time_s: ArrayLike, magnification: ArrayLike) -> FloatLike:
    """
    Length that a moving subject smears on the sensor.

    Parameters
    ----------
    speed_m_s : float or array
        Speed across the line of sight. [m/s]
    exposure_time_s : float or array
        Exposure time. [s]
    magnification : float or array
        Image size ÷ subject size. [-]

    Returns
    -------
    float or array
        v t m, broadcast. [µm]

    Notes
    -----
    Valid for movement square to the axis, the worst case; no stabiliser helps against it.

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    >>> round(subject_motion_um(1.4, 1 / 125, 50 / 4950), 1)
    113.1
    """
    return plain(floats(speed_m_s) * positive(exposure_time_s) * floats(magnification) * 1e6)


def freezing_time_s(speed_m_s: ArrayLike, magnification: ArrayLike, blur_um: ArrayLike) -> FloatLike:
    """
    Longest exposure time at which a moving subject smears no more than is tolerated.

    Parameters
    ----------
    speed_m_s : float or array
        Speed across the line of sight; 0 gives no limit. [m/s]
    magnification : float or array
        Image size ÷ subject size. [-]
    blur_um : float or array
        Tolerated blur. [µm]

    Returns
    -------
    float or array
        c / (v m), broadcast. [s]

    Notes
    -----
    Valid as `subject_motion_um`, whose inverse it is.

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    >>> round(1 / freezing_time_s(1.4, 50 / 4950, 28.84))
    490
    """
    with np.errstate(divide="ignore"):
        return plain(positive(blur_um) / (floats(speed_m_s) * floats(magnification) * 1e6))


def nominal_time_s(exposure_time_s: ArrayLike, *, no_longer: bool = False) -> FloatLike:
    """
    Exposure time that a camera has for one that was computed.

    Parameters
    ----------
    exposure_time_s : float or array
        Exposure time. [s]
    no_longer : bool
        The longest that is not above it, instead of the nearest. [-]

    Returns
    -------
    float or array
        One of `NOMINAL_TIMES_S`, broadcast; NaN where not known. [s]

    Notes
    -----
    Valid from 1/8000 s to 1 s; beyond, the end of the list. Nominal times are rounded: 1/60 stands for 1/64.

    References
    ----------
    .. [1] Common practice: thirds of a stop as cameras name them.

    Examples
    --------
    >>> round(1 / nominal_time_s(0.0171))
    60
    >>> round(1 / nominal_time_s(0.0165, no_longer=True))
    80
    """
    times = np.array(NOMINAL_TIMES_S)
    wanted = positive(exposure_time_s)
    if no_longer:
        # A thousandth of grace: a time that was computed from a nominal one is that one.
        places = np.searchsorted(times, np.nan_to_num(wanted, nan=1.0) * 1.001, side="right") - 1
    else:
        places = np.abs(np.log(times) - np.log(np.nan_to_num(wanted, nan=1.0))[..., np.newaxis]).argmin(axis=-1)
    return plain(np.where(np.isnan(wanted), np.nan, times[np.clip(places, 0, times.size - 1)]))
