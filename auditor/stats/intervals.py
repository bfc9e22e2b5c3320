"""Intervals for one proportion and for the difference of two."""

from __future__ import annotations

import numpy as np
from scipy.special import betaincinv, ndtri

from auditor.optics.arrays import ArrayLike, FloatArray, FloatLike, floats, plain

__all__ = [
    "agresti_coull",
    "clopper_pearson",
    "jeffreys",
    "rule_of_three",
    "wilson",
    "wilson_continuity",
]

Interval = tuple[FloatLike, FloatLike]


def _counts(kept: ArrayLike, judged: ArrayLike) -> tuple[FloatArray, FloatArray]:
    x, n = np.broadcast_arrays(floats(kept), floats(judged))
    if np.any((x < 0) | (x > n)):
        raise ValueError("kept must lie between 0 and judged")
    return x, n


def _z(confidence: float) -> float:
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must lie between 0 and 1, not {confidence}")
    return float(ndtri(0.5 + confidence / 2.0))


def wilson(kept: ArrayLike, judged: ArrayLike, confidence: float = 0.95) -> Interval:
    """
    Wilson score interval of a proportion.

    Parameters
    ----------
    kept, judged : int or array
        Successes and trials; after a design effect they need not be whole. [frames]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    low, high : float or array
        Proportions, broadcast; 0 and 1 where nothing was judged; NaN where a count is not known. [-]

    Raises
    ------
    ValueError
        For kept below 0 or above judged, or a confidence outside 0-1.

    Notes
    -----
    Valid for independent trials and any n, small ones too; frames of one burst are not independent
    (`auditor.stats.clusters`).

    References
    ----------
    .. [1] L. D. Brown, T. T. Cai and A. DasGupta, Interval Estimation for a Binomial Proportion, Stat. Sci. 16(2)
       (2001) 101-133.

    Examples
    --------
    >>> low, high = wilson(81, 263)
    >>> round(low, 4), round(high, 4)
    (0.2553, 0.3662)
    """
    x, n = _counts(kept, judged)
    z = _z(confidence)
    share = np.where(n > 0, x / np.where(n > 0, n, 1.0), 0.5) + 0.0 * (x + n)
    centre = 2.0 * n * share + z * z
    half = z * np.sqrt(z * z + 4.0 * n * share * (1.0 - share))
    low, high = (centre - half) / (2.0 * (n + z * z)), (centre + half) / (2.0 * (n + z * z))
    # At 0 of n and n of n the ends are exactly 0 and 1; without this they miss by a rounding error.
    return plain(np.where(x == 0, 0.0, low)), plain(np.where(x == n, 1.0, high))


def wilson_continuity(kept: ArrayLike, judged: ArrayLike, confidence: float = 0.95) -> Interval:
    """
    Wilson score interval with continuity correction: wider, never too narrow.

    Parameters
    ----------
    kept, judged : int or array
        Successes and trials. [frames]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    low, high : float or array
        Proportions, broadcast; 0 and 1 where nothing was judged. [-]

    Notes
    -----
    Valid for independent trials and any n.

    References
    ----------
    .. [1] R. G. Newcombe, Stat. Med. 17 (1998) 857-872, method 4; as R's prop.test prints it.

    Examples
    --------
    >>> low, high = wilson_continuity(340, 400)
    >>> round(low, 7), round(high, 7)
    (0.8103309, 0.8827749)
    """
    x, n = _counts(kept, judged)
    z = _z(confidence)
    share = np.where(n > 0, x / np.where(n > 0, n, 1.0), 0.5) + 0.0 * (x + n)
    size = np.where(n > 0, n, 1.0)
    wobble = 4.0 * n * share * (1.0 - share) + z * z - 1.0 / size
    tilt = 4.0 * share - 2.0
    centre = 2.0 * n * share + z * z
    low = (centre - 1.0 - z * np.sqrt(np.maximum(wobble + tilt, 0.0))) / (2.0 * (n + z * z))
    high = (centre + 1.0 + z * np.sqrt(np.maximum(wobble - tilt, 0.0))) / (2.0 * (n + z * z))
    return plain(np.where(x == 0, 0.0, np.maximum(low, 0.0))), plain(np.where(x == n, 1.0, np.minimum(high, 1.0)))


def agresti_coull(kept: ArrayLike, judged: ArrayLike, confidence: float = 0.95) -> Interval:
    """
    Agresti-Coull interval of a proportion: Wald after adding z²/2 of each kind.

    Parameters
    ----------
    kept, judged : int or array
        Successes and trials. [frames]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    low, high : float or array
        Proportions, broadcast, cut at 0 and 1. [-]

    Notes
    -----
    Valid for independent trials; for larger n, about 40 and more.

    References
    ----------
    .. [1] L. D. Brown, T. T. Cai and A. DasGupta, Stat. Sci. 16(2) (2001) 101-133.

    Examples
    --------
    >>> low, high = agresti_coull(7, 50)
    >>> round(low, 4), round(high, 4)
    (0.0664, 0.265)
    """
    x, n = _counts(kept, judged)
    z = _z(confidence)
    size = n + z * z
    share = (x + z * z / 2.0) / size
    half = z * np.sqrt(share * (1.0 - share) / size)
    return plain(np.maximum(share - half, 0.0)), plain(np.minimum(share + half, 1.0))


def clopper_pearson(kept: ArrayLike, judged: ArrayLike, confidence: float = 0.95) -> Interval:
    """
    Clopper-Pearson interval of a proportion: never less than its confidence, often much more.

    Parameters
    ----------
    kept, judged : int or array
        Successes and trials. [frames]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    low, high : float or array
        Proportions, broadcast; 0 and 1 where nothing was judged. [-]

    Notes
    -----
    Valid for independent trials and any n; conservative.

    References
    ----------
    .. [1] C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404-413, by beta quantiles.

    Examples
    --------
    >>> low, high = clopper_pearson(7, 50)
    >>> round(low, 8), round(high, 8)
    (0.0581917, 0.267396)
    """
    x, n = _counts(kept, judged)
    tail = 1.0 - _checked(confidence)
    low = np.where(x == 0, 0.0, betaincinv(np.where(x == 0, 1.0, x), n - x + 1.0, tail / 2.0))
    high = np.where(x == n, 1.0, betaincinv(x + 1.0, np.where(x == n, 1.0, n - x), 1.0 - tail / 2.0))
    return plain(low), plain(high)


def _checked(confidence: float) -> float:
    _z(confidence)
    return confidence


def jeffreys(kept: ArrayLike, judged: ArrayLike, confidence: float = 0.95) -> Interval:
    """
    Jeffreys interval of a proportion: quantiles of Beta(x + ½, n - x + ½).

    Parameters
    ----------
    kept, judged : int or array
        Successes and trials. [frames]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    low, high : float or array
        Proportions, broadcast; the lower end is 0 at no success, the upper 1 at no failure. [-]

    Notes
    -----
    Valid for independent trials; as good as Wilson for small n.

    References
    ----------
    .. [1] L. D. Brown, T. T. Cai and A. DasGupta, Stat. Sci. 16(2) (2001) 101-133, with their ends at 0 and n.

    Examples
    --------
    >>> low, high = jeffreys(7, 50)
    >>> round(low, 4), round(high, 4)
    (0.0649, 0.2553)
    """
    x, n = _counts(kept, judged)
    tail = 1.0 - _checked(confidence)
    low = betaincinv(x + 0.5, n - x + 0.5, tail / 2.0)
    high = betaincinv(x + 0.5, n - x + 0.5, 1.0 - tail / 2.0)
    return plain(np.where(x == 0, 0.0, low)), plain(np.where(x == n, 1.0, high))


def rule_of_three(judged: ArrayLike) -> FloatLike:
    """
    Highest rate that no success among n still allows, one-sided 95 %, by the rule of thumb.

    Parameters
    ----------
    judged : int or array
        Trials, none of them a success. [frames]

    Returns
    -------
    float or array
        3 / n, broadcast, at most 1. [-]

    Notes
    -----
    Valid for n of about 30 and more; exactly it is 1 - 0.05^(1/n).

    References
    ----------
    .. [1] Standard: -ln 0.05 ≈ 3.

    Examples
    --------
    >>> rule_of_three(20)
    0.15
    """
    with np.errstate(divide="ignore"):
        return plain(np.minimum(3.0 / floats(judged), 1.0))
