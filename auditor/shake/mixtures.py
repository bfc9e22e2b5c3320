"""Quantiles of a mixture of normal distributions, as a posterior on a grid gives them."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from auditor.optics.arrays import ArrayLike, FloatArray, floats

__all__ = ["mixture_quantiles", "weighted_quantiles"]

_POINTS = 2001


def mixture_quantiles(
    means: ArrayLike, deviations: ArrayLike, weights: ArrayLike, probabilities: ArrayLike
) -> FloatArray:
    """
    Quantiles of a mixture of normal distributions.

    Parameters
    ----------
    means, deviations : array, shape (k,)
        Of each part; a deviation of 0 is a point. [any unit]
    weights : array, shape (k,)
        Of each part; scaled to sum to 1. [-]
    probabilities : array, shape (p,)
        Wanted, between 0 and 1. [-]

    Returns
    -------
    array, shape (p,)
        In the unit of the means. [any unit]

    Notes
    -----
    Read from the distribution function on 2,001 points. Valid to a thousandth of the mixture's width.

    References
    ----------
    .. [1] Definition of a mixture (standard).

    Examples
    --------
    >>> mixture_quantiles([0.0, 0.0], [1.0, 1.0], [0.5, 0.5], [0.05, 0.95]).round(2)
    array([-1.64,  1.64])
    """
    mean, spread = floats(means), np.maximum(floats(deviations), 1e-12)
    share = floats(weights) / floats(weights).sum()
    reach = 5.0 * spread
    grid = np.linspace((mean - reach).min(), (mean + reach).max(), _POINTS)
    below = ndtr((grid[:, np.newaxis] - mean) / spread) @ share
    return floats(np.interp(floats(probabilities), below, grid))


def weighted_quantiles(
    values: ArrayLike, weights: ArrayLike, probabilities: ArrayLike, *, step: float = 0.0
) -> FloatArray:
    """
    Quantiles of values on an even grid, each standing for its cell.

    Parameters
    ----------
    values : array, shape (k,)
        Rising. [any unit]
    weights : array, shape (k,)
        Of each value; scaled to sum to 1. [-]
    probabilities : array, shape (p,)
        Wanted, between 0 and 1. [-]
    step : float
        Width of the cells; 0 takes the values as the cells' middles without width. [unit of the values]

    Returns
    -------
    array, shape (p,)
        In the unit of the values. [any unit]

    Notes
    -----
    The mass of a cell lies evenly across its width. Valid where the grid is finer than the distribution is wide.

    References
    ----------
    .. [1] Inverse of a piecewise linear distribution function (standard).

    Examples
    --------
    >>> weighted_quantiles([0.0, 1.0], [1.0, 1.0], [0.5], step=1.0)
    array([0.5])
    """
    middle = floats(values)
    share = floats(weights) / floats(weights).sum()
    edges = np.concatenate([middle - step / 2.0, middle[-1:] + step / 2.0])
    return floats(np.interp(floats(probabilities), np.concatenate([[0.0], np.cumsum(share)]), edges))
