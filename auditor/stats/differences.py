"""The difference of two proportions."""

from __future__ import annotations

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain
from auditor.stats.intervals import wilson

__all__ = ["newcombe_difference"]


def newcombe_difference(
    first: tuple[ArrayLike, ArrayLike], second: tuple[ArrayLike, ArrayLike], confidence: float = 0.95
) -> tuple[FloatLike, FloatLike, FloatLike]:
    """
    Difference of two proportions with its hybrid score interval.

    Parameters
    ----------
    first, second : (kept, judged)
        Successes and trials of each. [frames]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    difference, low, high : float or array
        first - second and its interval, broadcast; NaN difference where one was never judged. [-]

    Notes
    -----
    Valid for independent samples; built from the two Wilson intervals.

    References
    ----------
    .. [1] R. G. Newcombe, Interval estimation for the difference between independent proportions, Stat. Med. 17 (1998)
       873-890, method 10.

    Examples
    --------
    >>> difference, low, high = newcombe_difference((56, 70), (48, 80))
    >>> round(difference, 2), round(low, 4), round(high, 4)
    (0.2, 0.0524, 0.3339)
    """
    (x1, n1), (x2, n2) = [[floats(count) for count in each] for each in (first, second)]
    low1, high1 = (floats(end) for end in wilson(x1, n1, confidence))
    low2, high2 = (floats(end) for end in wilson(x2, n2, confidence))
    with np.errstate(invalid="ignore", divide="ignore"):
        share1, share2 = x1 / n1, x2 / n2
    difference = share1 - share2
    low = difference - np.hypot(share1 - low1, high2 - share2)
    high = difference + np.hypot(high1 - share1, share2 - low2)
    return plain(difference), plain(low), plain(high)
