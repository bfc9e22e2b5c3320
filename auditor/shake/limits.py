"""Rules and limits to hold figures against: the 1/f rule, suppression in dB, the turning earth."""

from __future__ import annotations

import numpy as np

from auditor.constants import EARTH_ROTATION_RAD_S
from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = ["earth_rotation_cap_stops", "reciprocal_rule_s", "residual_from_suppression", "suppression_db"]


def suppression_db(left: ArrayLike) -> FloatLike:
    """
    Residual as the suppression ratio of the control literature.

    Parameters
    ----------
    left : float or array
        Residual. [-]

    Returns
    -------
    float or array
        20 log10(r), broadcast. [dB]

    Notes
    -----
    Valid for r > 0.

    References
    ----------
    .. [1] Li and Chen, IEEE Trans. Consum. Electron. 59(1):113-121 (2013), for the quantity.

    Examples
    --------
    >>> round(suppression_db(0.1), 6)
    -20.0
    """
    return plain(20.0 * np.log10(positive(left)))


def residual_from_suppression(suppression: ArrayLike) -> FloatLike:
    """
    Residual from a suppression ratio.

    Parameters
    ----------
    suppression : float or array
        Suppression ratio. [dB]

    Returns
    -------
    float or array
        10^(dB/20), broadcast. [-]

    Notes
    -----
    Valid for amplitude ratios. Inverse of `suppression_db`.

    References
    ----------
    .. [1] Li and Chen, IEEE Trans. Consum. Electron. 59(1):113-121 (2013), for the quantity.

    Examples
    --------
    >>> round(residual_from_suppression(-30.46), 3)
    0.03
    """
    return plain(10.0 ** (floats(suppression) / 20.0))


def earth_rotation_cap_stops(blur_um: ArrayLike) -> FloatLike:
    """
    Stop where the turn of the earth alone blurs as much as is tolerated, over the 1/f rule.

    Parameters
    ----------
    blur_um : float or array
        Tolerated blur. [µm]

    Returns
    -------
    float or array
        log2(c / (f Ω t)) with t = 1/f, whatever f, broadcast. [stop]

    Notes
    -----
    Valid at the worst latitude and direction, for gyroscopes without correction. It depends on the tolerance, so it is
    not a law: 6.3 stops belong to 5.7 µm.

    References
    ----------
    .. [1] Ω and "6.3 stops": thecentercolumn.com (2020-01-17).

    Examples
    --------
    >>> round(earth_rotation_cap_stops(63.0), 2)
    9.76
    """
    return plain(np.log2(positive(blur_um) / 1000.0 / EARTH_ROTATION_RAD_S))


def reciprocal_rule_s(focal_mm: ArrayLike, crop: ArrayLike = 1.0) -> FloatLike:
    """
    Slowest hand-held time by the rule of thumb.

    Parameters
    ----------
    focal_mm : float or array
        Focal length, adapter factor included. [mm]
    crop : float or array
        Crop factor. [-]

    Returns
    -------
    float or array
        1 / (f × crop), broadcast. [s]

    Notes
    -----
    Common practice, valid as a rule of constant turning rate without a stabiliser: 63 µm on 35 mm film is 3.6 °/s.

    References
    ----------
    .. [1] Common practice; a 1981 SLR manual recommends 1/125 s for 125 mm as the safe side.

    Examples
    --------
    >>> reciprocal_rule_s(50.0, 2.0)
    0.01
    """
    return plain(1.0 / (positive(focal_mm) * positive(crop)))
