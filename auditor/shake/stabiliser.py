"""What a stabiliser leaves of the shake, by how wrong its focal-length setting is."""

from __future__ import annotations

from typing import Literal

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = [
    "ResidualForm",
    "residual",
    "residual_floor",
    "setting_tolerance",
    "stops_cap",
    "stops_left",
    "stops_lost",
]

ResidualForm = Literal["constant-floor", "scaled-floor"]


def residual_floor(stops: ArrayLike, exponent: ArrayLike = 1.0) -> FloatLike:
    """
    Share of the shake that is left at the right setting.

    Parameters
    ----------
    stops : float or array
        What the stabiliser is rated or fitted at, as a ratio of exposure times. [stop]
    exponent : float or array
        H, how shake grows with exposure time. [-]

    Returns
    -------
    float or array
        r0 = 2^(-H S), broadcast, 0-1. [-]

    Notes
    -----
    Valid for S ≥ 0 and 0.5 < H ≤ 1.

    References
    ----------
    .. [1] Derived from the definition of stops as a ratio of exposure times (ISO 20954-1:2019, by its scope).

    Examples
    --------
    >>> residual_floor(5.0)
    0.03125
    """
    return plain(2.0 ** (-floats(exponent) * floats(stops)))


def residual(
    setting_mm: ArrayLike,
    right_mm: ArrayLike,
    stops: ArrayLike,
    *,
    is_on: ArrayLike = True,
    exponent: ArrayLike = 1.0,
    form: ResidualForm = "constant-floor",
) -> FloatLike:
    """
    Share of the shake that is left in the picture.

    Parameters
    ----------
    setting_mm : float or array
        Focal length that the stabiliser was told, times the body's gain where it is not 1. [mm]
    right_mm : float or array
        Focal length it should have been told. [mm]
    stops : float or array
        What the stabiliser gives at the right setting; 0 is a body without one. [stop]
    is_on : bool or array
        False where the stabiliser was off. [-]
    exponent : float or array
        H, how shake grows with exposure time. [-]
    form : {"constant-floor", "scaled-floor"}
        r² = (1-g)² + r0², or r² = (1-g)² + g² r0², with g = setting ÷ right. [-]

    Returns
    -------
    float or array
        Residual, broadcast; 1 where off or none; NaN where setting, right setting or stops is not known. [-]

    Notes
    -----
    Valid on the axis, for rotation, with travel to spare; gain error and tracking error uncorrelated. The two forms
    agree within 0.09 stop for |1-g| ≤ 0.2. It cannot tell too short from too long: only |1-g| counts.

    References
    ----------
    .. [1] Derived. That the correction is proportional to the focal length told: US 2010/0123783.

    Examples
    --------
    >>> residual(50.0, 50.0, 5.0)
    0.03125
    >>> round(residual(50.0, 85.0, 5.0), 4)
    0.4129
    >>> residual(50.0, 85.0, 5.0, is_on=False)
    1.0
    """
    gain = positive(setting_mm) / positive(right_mm)
    floor = floats(residual_floor(stops, exponent))
    floor = floor * gain if form == "scaled-floor" else floor
    left = np.hypot(1.0 - gain, floor)
    return plain(np.where(~np.asarray(is_on, dtype=bool) | (floats(stops) == 0.0), 1.0, left))


def stops_left(left: ArrayLike, exponent: ArrayLike = 1.0) -> FloatLike:
    """
    Count the stops that a stabiliser still gives.

    Parameters
    ----------
    left : float or array
        Residual. [-]
    exponent : float or array
        H, how shake grows with exposure time. [-]

    Returns
    -------
    float or array
        -log2(r) / H, broadcast; below 0 it is worse than off. [stop]

    Notes
    -----
    Valid for r > 0. The figure means nothing without its H: name it beside.

    References
    ----------
    .. [1] Derived from the definition of stops as a ratio of exposure times.

    Examples
    --------
    >>> stops_left(0.5)
    1.0
    """
    return plain(-np.log2(positive(left)) / floats(exponent))


def stops_lost(left: ArrayLike, stops: ArrayLike, exponent: ArrayLike = 1.0) -> FloatLike:
    """
    Count the stops that a wrong setting cost.

    Parameters
    ----------
    left : float or array
        Residual. [-]
    stops : float or array
        What the stabiliser gives at the right setting. [stop]
    exponent : float or array
        H, how shake grows with exposure time. [-]

    Returns
    -------
    float or array
        S - stops left, broadcast; more than S where it was worse than off. [stop]

    Notes
    -----
    Valid as `stops_left`.

    References
    ----------
    .. [1] Derived from the definition of stops as a ratio of exposure times.

    Examples
    --------
    >>> round(stops_lost(residual(45.0, 50.0, 5.0), 5.0), 2)
    1.75
    """
    return plain(floats(stops) - floats(stops_left(left, exponent)))


def setting_tolerance(stops: ArrayLike, loss_stops: ArrayLike, exponent: ArrayLike = 1.0) -> FloatLike:
    """
    Largest error of the setting that costs no more than a loss.

    Parameters
    ----------
    stops : float or array
        What the stabiliser gives at the right setting. [stop]
    loss_stops : float or array
        Loss that is accepted. [stop]
    exponent : float or array
        H, how shake grows with exposure time. [-]

    Returns
    -------
    float or array
        Largest |1-g|: r0 √(2^(2 H loss) - 1), broadcast. [-]

    Notes
    -----
    Valid for the constant-floor form. At H = 1: r0 √3 for one stop, r0 for half a stop.

    References
    ----------
    .. [1] Derived from r² = (1-g)² + r0².

    Examples
    --------
    >>> round(100 * setting_tolerance(5.0, 1.0), 3)
    5.413
    """
    growth = floats(exponent) * floats(loss_stops)
    return plain(floats(residual_floor(stops, exponent)) * np.sqrt(2.0 ** (2.0 * growth) - 1.0))


def stops_cap(setting_error: ArrayLike, exponent: ArrayLike = 1.0) -> FloatLike:
    """
    Most stops that any stabiliser can give at an error of its setting.

    Parameters
    ----------
    setting_error : float or array
        |1-g|, a proportion. [-]
    exponent : float or array
        H, how shake grows with exposure time. [-]

    Returns
    -------
    float or array
        -log2|1-g| / H, broadcast; infinite for no error. [stop]

    Notes
    -----
    Valid whatever the rating: the limit of `stops_left` for a perfect stabiliser.

    References
    ----------
    .. [1] Derived from r² = (1-g)² + r0² with r0 = 0.

    Examples
    --------
    >>> round(stops_cap(0.1), 2)
    3.32
    """
    with np.errstate(divide="ignore"):
        return plain(-np.log2(np.abs(floats(setting_error))) / floats(exponent))
