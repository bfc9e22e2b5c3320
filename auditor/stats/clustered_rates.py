"""Keep rates of groups whose frames come in bursts: how alike those are, and what that is worth."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from auditor.optics.arrays import ArrayLike, FloatArray, floats

__all__ = ["correlation_beyond", "group_correlations", "group_design_effects"]


def group_correlations(
    kept: ArrayLike,
    judged: ArrayLike,
    group: NDArray[np.integer],
    *,
    alike: ArrayLike = 1.0,
    borrowed_bursts: float = 30.0,
) -> tuple[FloatArray, float]:
    """
    How alike frames of one burst are beyond the rate of their own group, for each group and for all.

    Parameters
    ----------
    kept, judged : array, shape (bursts,)
        Kept and judged frames of each burst. [frames]
    group : int array, shape (bursts,)
        Group of each burst, from 0.
    alike : float or array, shape (bursts,)
        How many bursts an element stands for. [bursts]
    borrowed_bursts : float
        Weight of what all groups show, in ordinary bursts, since a group with few bursts tells little. [bursts]

    Returns
    -------
    by_group : array, shape (groups,)
        Intraclass correlation, 0-1; that of all groups where one tells nothing. [-]
    of_all : float
        Intraclass correlation of all; 0 where no burst is longer than one frame, or no fate differs. [-]

    Notes
    -----
    Products of the deviations of two frames of one burst over p(1-p) of their group. Valid for about 20 bursts and
    more; with fewer it is a hint. Cut at 0 from below, since frames of one burst do not repel each other.

    References
    ----------
    .. [1] K.-Y. Liang and S. L. Zeger, Biometrika 73 (1986) 13-22, exchangeable correlation (from memory).

    Examples
    --------
    >>> by_group, of_all = group_correlations([2, 0, 2, 0], [2, 2, 2, 2], np.zeros(4, int))
    >>> by_group.tolist(), of_all
    ([1.0], 1.0)
    """
    x, n = floats(kept), floats(judged)
    of = np.broadcast_to(floats(alike), n.shape)
    groups = int(group.max()) + 1 if group.size else 0
    total = np.bincount(group, of * n, groups)
    rate = (np.bincount(group, of * x, groups) / np.where(total > 0, total, 1.0))[group] if groups else x
    own = x * (1.0 - rate) ** 2 + (n - x) * rate**2
    together = of * ((x - n * rate) ** 2 - own)
    pairs = of * n * (n - 1.0) * rate * (1.0 - rate)
    paired = pairs > 0
    of_all = float(np.clip(together.sum() / pairs.sum(), 0.0, 1.0)) if paired.any() else 0.0
    borrowed = borrowed_bursts * float(pairs[paired].sum() / of[paired].sum()) if paired.any() else 1.0
    raw = (np.bincount(group, together, groups) + borrowed * of_all) / (np.bincount(group, pairs, groups) + borrowed)
    return np.clip(raw, 0.0, 1.0), of_all


def group_design_effects(
    judged: ArrayLike,
    group: NDArray[np.integer],
    correlation: ArrayLike,
    groups: int,
    *,
    alike: ArrayLike = 1.0,
) -> FloatArray:
    """
    How many times more frames each group needs because frames of one burst are alike.

    Parameters
    ----------
    judged : array, shape (bursts,)
        Judged frames of each burst. [frames]
    group : int array, shape (bursts,)
        Group of each burst, from 0.
    correlation : float or array, shape (groups,)
        Intraclass correlation. [-]
    groups : int
        How many groups there are.
    alike : float or array, shape (bursts,)
        How many bursts an element stands for. [bursts]

    Returns
    -------
    array, shape (groups,)
        1 + (m - 1) ρ with m = Σn²/Σn; 1 for a group with nothing judged. [-]

    Notes
    -----
    Valid for bursts of any mix of lengths, since m weighs the long ones by their frames.

    References
    ----------
    .. [1] L. Kish, Survey Sampling (1965), sec. 5.4 (from memory).

    Examples
    --------
    >>> group_design_effects([5.0, 5.0], np.array([0, 0]), 0.3, 2).tolist()
    [2.2, 1.0]
    """
    n = floats(judged)
    of = np.broadcast_to(floats(alike), n.shape)
    total = np.bincount(group, of * n, groups)
    size = np.where(total > 0, np.bincount(group, of * n * n, groups) / np.where(total > 0, total, 1.0), 1.0)
    return floats(1.0 + (np.maximum(size, 1.0) - 1.0) * floats(correlation))


def correlation_beyond(
    kept: ArrayLike, chance: ArrayLike, burst: NDArray[np.integer], leverage: Iterable[FloatArray] = ()
) -> float:
    """
    How alike frames of one burst are beyond what a fitted model says of them.

    Parameters
    ----------
    kept : array, shape (n,)
        1 kept, 0 not. [-]
    chance : array, shape (n,)
        Probability that the model gives each. [-]
    burst : int array, shape (n,)
        Burst of each.
    leverage : iterable of arrays of shape (n,)
        Columns, one at a time, of the design times a root of the coefficients' covariance: x L with L Lᵀ = V. The fit
        has bent towards the frames it saw; with this, what that hides is put back. [-]

    Returns
    -------
    float
        Intraclass correlation, 0-0.95; 0 where no burst is longer than one frame. [-]

    Notes
    -----
    Products of residuals of two frames of one burst over those of their deviations; to these products the fit adds
    -v x V xᵀ v (1 + (m - 1) ρ), to first order. Valid for about 20 bursts and more.

    References
    ----------
    .. [1] K.-Y. Liang and S. L. Zeger, Biometrika 73 (1986) 13-22; L. A. Mancl and T. A. DeRouen, Biometrics 57 (2001)
       126-134, for the correction (both from memory).

    Examples
    --------
    >>> correlation_beyond([1, 1, 0, 0, 1, 0, 1, 0], [0.5] * 8, np.array([0, 0, 1, 1, 2, 2, 3, 3]))
    0.0
    >>> correlation_beyond([1, 1, 0, 0, 1, 1, 1, 0], [0.5] * 8, np.array([0, 0, 1, 1, 2, 2, 3, 3]))
    0.5
    """
    y, p = floats(kept), floats(chance)
    _, number, size = np.unique(burst, return_inverse=True, return_counts=True)

    def over_pairs(values: FloatArray) -> float:
        return float((np.bincount(number, values) ** 2).sum() - (values * values).sum())

    variance = p * (1.0 - p)
    pairs = over_pairs(np.sqrt(variance))
    if pairs <= 1e-9 * variance.sum():
        return 0.0
    hidden = sum(over_pairs(variance * column) for column in leverage)
    longer = float((size**2).sum() / size.sum()) - 1.0
    beyond = (over_pairs(y - p) + hidden) / max(pairs - hidden * longer, 0.2 * pairs)
    return float(np.clip(beyond, 0.0, 0.95))
