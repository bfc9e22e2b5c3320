"""Kept or not, by several causes at once: logit, probit and complementary log-log with a weak prior."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import expit, ndtr
from scipy.stats import norm

from auditor.optics.arrays import ArrayLike, FloatArray, floats

__all__ = ["BinaryFit", "Link", "fit_binary", "predicted_probability"]

Link = Literal["logit", "probit", "cloglog"]

_STEPS = 100
_TINY = 1e-12


@dataclass(frozen=True, slots=True)
class BinaryFit:
    """
    A fitted model of a yes-or-no outcome.

    Attributes
    ----------
    coefficients : array, shape (k,)
        In the order of the design's columns. [link scale per unit of the column]
    errors : array, shape (k,)
        Standard errors. [as coefficients]
    covariance : array, shape (k, k)
        Of the coefficients.
    log_likelihood : float
        At the fit, prior left out. [-]
    converged : bool
        False where the data separate and no prior held the fit.
    """

    coefficients: FloatArray
    errors: FloatArray
    covariance: FloatArray
    log_likelihood: float
    converged: bool


def _probability(eta: FloatArray, link: Link) -> tuple[FloatArray, FloatArray]:
    """Probability and its slope over the linear predictor."""
    if link == "logit":
        p = expit(eta)
        return p, p * (1.0 - p)
    if link == "probit":
        return ndtr(eta), norm.pdf(eta)
    growth = np.exp(np.clip(eta, -700.0, 50.0))
    return -np.expm1(-growth), growth * np.exp(-growth)


def _log_likelihood(p: FloatArray, outcome: FloatArray, weight: FloatArray) -> float:
    inside = np.clip(p, _TINY, 1.0 - _TINY)
    return float((weight * (outcome * np.log(inside) + (1.0 - outcome) * np.log1p(-inside))).sum())


def fit_binary(
    design: ArrayLike,
    outcome: ArrayLike,
    *,
    link: Link = "logit",
    prior_deviation: ArrayLike = np.inf,
    weight: ArrayLike = 1.0,
) -> BinaryFit:
    """
    Fit a yes-or-no outcome to several causes.

    Parameters
    ----------
    design : array, shape (n, k)
        One row a frame or group; a column of ones for the constant. [any]
    outcome : array, shape (n,)
        1 kept, 0 not; or the share kept of a group. [-]
    link : {"logit", "probit", "cloglog"}
        Scale on which causes add up. [-]
    prior_deviation : float or array, shape (k,)
        Standard deviation of a normal prior around 0 on each coefficient; infinite for none. [link scale]
    weight : float or array, shape (n,)
        Frames that a row stands for. [frames]

    Returns
    -------
    BinaryFit
        Maximum a posteriori fit by Fisher scoring with halved steps.

    Notes
    -----
    A weak prior (2.5 on columns scaled to unit spread) keeps the fit finite where few frames were rejected. Valid for
    independent rows; enlarge the errors by the design effect for bursts.

    References
    ----------
    .. [1] P. McCullagh and J. A. Nelder, Generalized Linear Models, 2nd ed. (1989), sec. 2.5 (from memory); A. Gelman
       et al., Ann. Appl. Stat. 2 (2008) 1360-1383, for the weak prior.

    Examples
    --------
    >>> fit = fit_binary([[1, 0], [1, 0], [1, 1], [1, 1]], [1, 0, 1, 1], prior_deviation=2.5)
    >>> bool(fit.coefficients[1] > 0), fit.converged
    (True, True)
    """
    x, y = floats(design), floats(outcome)
    w = np.broadcast_to(floats(weight), y.shape)
    penalty = np.diag(np.broadcast_to(1.0 / floats(prior_deviation) ** 2, (x.shape[1],)))
    b = np.zeros(x.shape[1])

    def objective(at: FloatArray) -> float:
        return _log_likelihood(_probability(x @ at, link)[0], y, w) - 0.5 * float(at @ penalty @ at)

    best, converged = objective(b), False
    information = penalty
    for _ in range(_STEPS):
        p, slope = _probability(x @ b, link)
        variance = np.maximum(p * (1.0 - p), _TINY)
        information = x.T @ (x * (w * slope**2 / variance)[:, np.newaxis]) + penalty
        step = np.linalg.lstsq(information, x.T @ (w * slope * (y - p) / variance) - penalty @ b, rcond=None)[0]
        scale = 1.0
        while objective(b + scale * step) < best - 1e-12 and scale > 1e-6:
            scale /= 2.0
        b = b + scale * step
        best = objective(b)
        if float(np.abs(scale * step).max()) < 1e-9:
            converged = True
            break
    covariance = np.linalg.pinv(information)
    likelihood = _log_likelihood(_probability(x @ b, link)[0], y, w)
    return BinaryFit(b, floats(np.sqrt(np.diag(covariance))), floats(covariance), likelihood, converged)


def predicted_probability(design: ArrayLike, coefficients: ArrayLike, link: Link = "logit") -> FloatArray:
    """
    Probability that a fit gives to each row.

    Parameters
    ----------
    design : array, shape (n, k)
        One row a frame, columns as in the fit. [any]
    coefficients : array, shape (k,)
        As in `BinaryFit`. [link scale]
    link : {"logit", "probit", "cloglog"}
        As in the fit. [-]

    Returns
    -------
    array, shape (n,)
        Probability, 0-1. [-]

    Notes
    -----
    Valid within the range of causes that were fitted.

    References
    ----------
    .. [1] P. McCullagh and J. A. Nelder, Generalized Linear Models, 2nd ed. (1989), ch. 4 (from memory).

    Examples
    --------
    >>> predicted_probability([[1.0, 2.0]], [0.0, 0.0])
    array([0.5])
    """
    return _probability(floats(design) @ floats(coefficients), link)[0]
