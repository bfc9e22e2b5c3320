"""Shake over many exposure times: a turning rate that forgets itself."""

from __future__ import annotations

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatLike, plain, positive

__all__ = ["correlated_rate_exponent", "correlated_rate_sigma_s"]


def correlated_rate_sigma_s(exposure_time_s: ArrayLike, memory_s: ArrayLike) -> FloatLike:
    """
    Turn over turning rate, for a rate that forgets itself.

    Parameters
    ----------
    exposure_time_s : float or array
        Exposure time. [s]
    memory_s : float or array
        Time constant τ over which the turning rate forgets itself; 1/(2π × corner frequency). [s]

    Returns
    -------
    float or array
        σ(t)/σ_rate = √(2 τ² (t/τ - 1 + e^(-t/τ))), broadcast. [s]

    Notes
    -----
    The Ornstein-Uhlenbeck law: straight for t ≪ τ, a random walk for t ≫ τ. Valid for any t > 0; use it where exposure
    times span more than a decade.

    References
    ----------
    .. [1] G. E. Uhlenbeck and L. S. Ornstein, Phys. Rev. 36 (1930) 823-841 (from memory).

    Examples
    --------
    >>> round(correlated_rate_sigma_s(0.1, 0.035), 5)
    0.06849
    """
    memory = positive(memory_s)
    share = positive(exposure_time_s) / memory
    return plain(memory * np.sqrt(2.0 * (share + np.expm1(-share))))


def correlated_rate_exponent(exposure_time_s: ArrayLike, memory_s: ArrayLike) -> FloatLike:
    """
    Local exponent H of the law of `correlated_rate_sigma_s`.

    Parameters
    ----------
    exposure_time_s : float or array
        Exposure time. [s]
    memory_s : float or array
        Time constant τ. [s]

    Returns
    -------
    float or array
        d ln σ / d ln t, broadcast; from 1 for short times to 1/2 for long ones. [-]

    Notes
    -----
    Valid for any t > 0.

    References
    ----------
    .. [1] Derivative of the Ornstein-Uhlenbeck law.

    Examples
    --------
    >>> round(correlated_rate_exponent(0.1, 0.0354), 3)
    0.705
    """
    share = positive(exposure_time_s) / positive(memory_s)
    return plain(0.5 * share * -np.expm1(-share) / (share + np.expm1(-share)))
