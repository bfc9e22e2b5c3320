"""Many comparisons at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import false_discovery_control

from auditor.optics.arrays import ArrayLike, FloatArray, FloatLike, floats, plain

__all__ = ["benjamini_hochberg", "bonferroni", "false_alarm_probability", "holm", "pairs"]


def pairs(groups: int) -> int:
    """
    Comparisons between groups, two by two.

    Parameters
    ----------
    groups : int
        Lenses, say. [groups]

    Returns
    -------
    int
        k (k - 1) / 2. [comparisons]

    Notes
    -----
    Valid for k ≥ 0.

    References
    ----------
    .. [1] Counting.

    Examples
    --------
    >>> pairs(10)
    45
    """
    return groups * (groups - 1) // 2


def false_alarm_probability(comparisons: ArrayLike, level: ArrayLike = 0.05) -> FloatLike:
    """
    Probability of at least one false alarm.

    Parameters
    ----------
    comparisons : int or array
        How many are made. [comparisons]
    level : float or array
        Level of each. [-]

    Returns
    -------
    float or array
        1 - (1 - α)^k, broadcast. [-]

    Notes
    -----
    Valid for independent comparisons; for dependent ones it is a rough guide.

    References
    ----------
    .. [1] Standard.

    Examples
    --------
    >>> round(false_alarm_probability(45), 2)
    0.9
    """
    return plain(1.0 - (1.0 - floats(level)) ** floats(comparisons))


def bonferroni(p_values: ArrayLike) -> FloatArray:
    """
    Adjust p-values by their number.

    Parameters
    ----------
    p_values : array
        One a comparison, 0-1. [-]

    Returns
    -------
    array
        min(k p, 1), in the same order. [-]

    Notes
    -----
    Valid for any dependence; the strictest.

    References
    ----------
    .. [1] Standard.

    Examples
    --------
    >>> bonferroni([0.01, 0.2])
    array([0.02, 0.4 ])
    """
    p = floats(p_values)
    return np.minimum(p * p.size, 1.0)


def holm(p_values: ArrayLike) -> FloatArray:
    """
    Adjust p-values step by step: never weaker than Bonferroni, for the same guarantee.

    Parameters
    ----------
    p_values : array
        One a comparison, 0-1. [-]

    Returns
    -------
    array
        Adjusted p-values, in the same order. [-]

    Notes
    -----
    Valid for any dependence.

    References
    ----------
    .. [1] S. Holm, Scand. J. Stat. 6 (1979) 65-70 (from memory).

    Examples
    --------
    >>> holm([0.01, 0.04])
    array([0.02, 0.04])
    """
    p = floats(p_values)
    order: NDArray[np.intp] = np.argsort(p)
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1)), 1.0)
    return adjusted


def benjamini_hochberg(p_values: ArrayLike) -> FloatArray:
    """
    Adjust p-values so that of those found, a known share at most is false.

    Parameters
    ----------
    p_values : array
        One a comparison, 0-1. [-]

    Returns
    -------
    array
        Adjusted p-values, in the same order. [-]

    Notes
    -----
    Valid for independent comparisons, and for positively dependent ones.

    References
    ----------
    .. [1] Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57 (1995) 289-300, as scipy.stats.false_discovery_control.

    Examples
    --------
    >>> benjamini_hochberg([0.01, 0.04])
    array([0.02, 0.04])
    """
    return floats(false_discovery_control(floats(p_values), method="bh"))
