"""Lenses whose setting over distance was measured: monotone interpolation of a short table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import PchipInterpolator

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = ["breathing_setting_mm", "measured_setting_mm"]


def breathing_setting_mm(
    distance_m: ArrayLike,
    breathing: Sequence[tuple[float, float]],
    *,
    infinity_mm: float | None = None,
    factor: ArrayLike = 1.0,
) -> FloatLike:
    """
    Interpolate a measured table: the setting at a distance, whatever the lens does inside.

    Parameters
    ----------
    distance_m : float or array
        Subject to sensor plane; infinity allowed. [m]
    breathing : sequence of (distance, setting)
        Measured focus distance [m] and image-side distance without adapter [mm]; one row or more, in any order.
    infinity_mm : float, optional
        Focal length at infinity, used as a row at infinity where the table has none. [mm]
    factor : float or array
        Product of the factors of all reducers and converters. [-]

    Returns
    -------
    float or array
        Setting, broadcast; NaN where the distance is unknown, nearer than the nearest row, or beyond the farthest row
        when there is no value for infinity. [mm]

    Notes
    -----
    Interpolated over 1/distance, in which a unit-focusing lens is nearly straight, by a cubic that never overshoots
    its rows [1]_. Valid between the rows only: nothing is extrapolated.

    References
    ----------
    .. [1] F. N. Fritsch and R. E. Carlson, Monotone Piecewise Cubic Interpolation, SIAM J. Numer. Anal. 17 (1980)
       238-246, as scipy.interpolate.PchipInterpolator.

    Examples
    --------
    >>> table = [(0.45, 55.0), (1.0, 52.9)]
    >>> breathing_setting_mm(0.45, table, infinity_mm=51.6)
    55.0
    >>> breathing_setting_mm(float("inf"), table, infinity_mm=51.6)
    51.6
    >>> breathing_setting_mm(0.3, table, infinity_mm=51.6)
    nan
    """
    by_nearness = {1.0 / float(distance): float(setting) for distance, setting in breathing}
    if infinity_mm is not None:
        by_nearness.setdefault(0.0, float(infinity_mm))
    nearness = np.array(sorted(by_nearness))
    settings = np.array([by_nearness[key] for key in nearness])
    wanted = 1.0 / positive(distance_m)
    if nearness.size == 1:
        setting = np.where(np.isclose(wanted, nearness[0]), settings[0], np.nan)
    else:
        setting = PchipInterpolator(nearness, settings, extrapolate=False)(wanted)
    return plain(setting * positive(factor))


def measured_setting_mm(separation_mm: ArrayLike, near_angle_rad: ArrayLike, far_angle_rad: ArrayLike) -> FloatLike:
    """
    Image-side distance from a picture of two marks whose directions are known.

    Parameters
    ----------
    separation_mm : float or array
        Distance between the marks' images on the sensor. [mm]
    near_angle_rad, far_angle_rad : float or array
        Directions of the two marks as seen from the lens, measured from the axis. [rad]

    Returns
    -------
    float or array
        Δx / (tan α2 - tan α1), broadcast; NaN where the two directions are one. [mm]

    Notes
    -----
    Valid for a rectilinear lens, at the distance where it was focused for the picture.

    References
    ----------
    .. [1] Central projection; ISO 517:2008 counts 50 f and more as infinity, where v is already 2 % above f.

    Examples
    --------
    >>> import math
    >>> round(measured_setting_mm(5.0, 0.0, math.atan(0.1)), 6)
    50.0
    """
    spread = np.abs(np.tan(floats(far_angle_rad)) - np.tan(floats(near_angle_rad)))
    return plain(positive(separation_mm) / positive(spread))
