"""Comparing like with like: direct and indirect standardisation, and the Mantel-Haenszel odds ratio."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri
from scipy.stats import chi2

from auditor.optics.arrays import ArrayLike, floats

__all__ = ["OddsRatio", "StandardisedRate", "directly_standardised", "mantel_haenszel", "observed_over_expected"]


@dataclass(frozen=True, slots=True)
class StandardisedRate:
    """
    A rate as it would be at a common mix of strata.

    Attributes
    ----------
    rate : float
        Standardised rate; NaN where no stratum could be used. [-]
    error : float
        Its standard error. [-]
    covered : float
        Share of the common mix in which there was something to go by. [-]
    """

    rate: float
    error: float
    covered: float


@dataclass(frozen=True, slots=True)
class OddsRatio:
    """
    An odds ratio with its interval.

    Attributes
    ----------
    ratio, low, high : float
        Odds of the first group over those of the second. [-]
    """

    ratio: float
    low: float
    high: float


def directly_standardised(kept: ArrayLike, judged: ArrayLike, weights: ArrayLike) -> StandardisedRate:
    """
    Rate of one group at a common mix of strata.

    Parameters
    ----------
    kept, judged : array
        Successes and trials in each stratum. [frames]
    weights : array
        Common mix; scaled to sum to 1. [-]

    Returns
    -------
    StandardisedRate
        Σ w x/n, its error √Σ w² p (1-p)/n, and the share of the mix that had trials. [-]

    Notes
    -----
    Valid over the strata in which the group has trials: weights of the others are left out, and `covered` says how much
    that was. Nothing is extrapolated.

    References
    ----------
    .. [1] K. J. Rothman, S. Greenland and T. L. Lash, Modern Epidemiology, 3rd ed., ch. 4 (from memory).

    Examples
    --------
    >>> both = [357, 343]
    >>> round(directly_standardised([81, 192], [87, 263], both).rate, 4)
    0.8325
    """
    x, n, w = np.broadcast_arrays(floats(kept), floats(judged), floats(weights))
    usable = n > 0
    total, used = float(w.sum()), float(w[usable].sum())
    if used <= 0.0:
        return StandardisedRate(float("nan"), float("nan"), 0.0)
    share, mix = x[usable] / n[usable], w[usable] / used
    error = float(np.sqrt((mix**2 * share * (1.0 - share) / n[usable]).sum()))
    return StandardisedRate(float((mix * share).sum()), error, used / total)


def mantel_haenszel(
    first: tuple[ArrayLike, ArrayLike], second: tuple[ArrayLike, ArrayLike], confidence: float = 0.95
) -> OddsRatio:
    """
    Odds ratio of two groups, stratum by stratum.

    Parameters
    ----------
    first, second : (kept, judged)
        Successes and trials of each group in each stratum. [frames]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    OddsRatio
        Mantel-Haenszel estimate with the Robins-Breslow-Greenland interval; NaN where no stratum tells. [-]

    Notes
    -----
    Valid where the odds ratio is about the same in all strata; strata with one group only count for nothing.

    References
    ----------
    .. [1] J. Robins, N. Breslow and S. Greenland, Biometrics 42 (1986) 311-323 (from memory).

    Examples
    --------
    >>> stones = mantel_haenszel(([81, 192], [87, 263]), ([234, 55], [270, 80]))
    >>> round(stones.ratio, 2), round(stones.low, 2), round(stones.high, 2)
    (1.45, 0.92, 2.29)
    """
    a, n1 = floats(first[0]), floats(first[1])
    c, n2 = floats(second[0]), floats(second[1])
    both = (n1 > 0) & (n2 > 0)
    a, b, c, d = a[both], (n1 - a)[both], c[both], (n2 - c)[both]
    size = a + b + c + d
    for_first, for_second = a * d / size, b * c / size
    r, s = float(for_first.sum()), float(for_second.sum())
    if r <= 0.0 or s <= 0.0:
        return OddsRatio(float("nan"), float("nan"), float("nan"))
    agree, differ = (a + d) / size, (b + c) / size
    variance = float((agree * for_first).sum()) / (2.0 * r * r)
    variance += float((agree * for_second + differ * for_first).sum()) / (2.0 * r * s)
    variance += float((differ * for_second).sum()) / (2.0 * s * s)
    half = float(ndtri(0.5 + confidence / 2.0)) * variance**0.5
    return OddsRatio(r / s, r / s * float(np.exp(-half)), r / s * float(np.exp(half)))


def observed_over_expected(
    kept: ArrayLike, judged: ArrayLike, rates: ArrayLike, confidence: float = 0.95
) -> tuple[float, float, float]:
    """
    Keepers of one group over what its strata would have let expect.

    Parameters
    ----------
    kept, judged : array
        Successes and trials of the group in each stratum. [frames]
    rates : array
        Rate of everybody in each stratum. [-]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    ratio, low, high : float
        Observed ÷ expected, with the exact Poisson interval. [-]

    Notes
    -----
    Indirect standardisation. Valid for rare successes; conservative otherwise. NaN where nothing was expected.

    References
    ----------
    .. [1] K. J. Rothman, S. Greenland and T. L. Lash, Modern Epidemiology, 3rd ed., ch. 4 (from memory).

    Examples
    --------
    >>> ratio, low, high = observed_over_expected([18, 30, 12], [20, 60, 120], [0.9, 0.5, 0.1])
    >>> round(ratio, 2), round(low, 2), round(high, 2)
    (1.0, 0.76, 1.29)
    """
    observed = float(floats(kept).sum())
    expected = float((floats(judged) * floats(rates)).sum())
    if expected <= 0.0:
        return float("nan"), float("nan"), float("nan")
    tail = (1.0 - confidence) / 2.0
    low = float(chi2.ppf(tail, 2.0 * observed)) / 2.0 if observed > 0 else 0.0
    high = float(chi2.ppf(1.0 - tail, 2.0 * observed + 2.0)) / 2.0
    return observed / expected, low / expected, high / expected
