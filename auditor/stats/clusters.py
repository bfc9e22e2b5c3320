"""Frames that are not independent: bursts and scenes."""

from __future__ import annotations

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = ["design_effect", "effective_count", "intraclass_correlation"]


def design_effect(cluster_size: ArrayLike, correlation: ArrayLike) -> FloatLike:
    """
    How many times more frames it takes because frames of one burst are alike.

    Parameters
    ----------
    cluster_size : float or array
        Mean frames a burst, 1 or more. [frames]
    correlation : float or array
        Intraclass correlation, 0-1. [-]

    Returns
    -------
    float or array
        1 + (n - 1) ρ, broadcast. [-]

    Notes
    -----
    Valid for bursts of about one length; for very unequal ones take Σn²/Σn as the size.

    References
    ----------
    .. [1] L. Kish, Survey Sampling (1965), sec. 5.4 (from memory).

    Examples
    --------
    >>> design_effect(5, 0.3)
    2.2
    """
    return plain(1.0 + (positive(cluster_size) - 1.0) * floats(correlation))


def effective_count(count: ArrayLike, cluster_size: ArrayLike, correlation: ArrayLike) -> FloatLike:
    """
    Independent frames that clustered ones are worth.

    Parameters
    ----------
    count : int or array
        Frames. [frames]
    cluster_size : float or array
        Mean frames a burst. [frames]
    correlation : float or array
        Intraclass correlation, 0-1. [-]

    Returns
    -------
    float or array
        count ÷ design effect, broadcast. [frames]

    Notes
    -----
    Valid as `design_effect`.

    References
    ----------
    .. [1] L. Kish, Survey Sampling (1965), sec. 5.4 (from memory).

    Examples
    --------
    >>> round(effective_count(100, 5, 0.3), 2)
    45.45
    """
    return plain(floats(count) / floats(design_effect(cluster_size, correlation)))


def intraclass_correlation(kept: ArrayLike, judged: ArrayLike) -> float:
    """
    How alike the frames of one burst are, from the counts of many.

    Parameters
    ----------
    kept, judged : array
        Kept and judged frames of each burst. [frames]

    Returns
    -------
    float
        Analysis-of-variance estimate, cut to 0-1; NaN for fewer than two bursts, or none longer than one frame. [-]

    Notes
    -----
    Valid for about 20 bursts and more; with fewer it is only a hint. 0 where every frame had the same fate.

    References
    ----------
    .. [1] J. L. Fleiss, Statistical Methods for Rates and Proportions, 2nd ed. (1981), sec. 13.2 (from memory).

    Examples
    --------
    >>> intraclass_correlation([5, 0, 5, 0], [5, 5, 5, 5])
    1.0
    """
    x, n = floats(kept), floats(judged)
    x, n = x[n > 0], n[n > 0]
    groups, total = n.size, float(n.sum())
    if groups < 2 or total <= groups:
        return float("nan")
    share = float(x.sum()) / total
    between = float((n * (x / n - share) ** 2).sum()) / (groups - 1)
    within = float((x * (1.0 - x / n)).sum()) / (total - groups)
    size = (total - float((n * n).sum()) / total) / (groups - 1)
    spread = between + (size - 1.0) * within
    return float(np.clip((between - within) / spread, 0.0, 1.0)) if spread > 0 else 0.0
