"""Many lenses, few frames each: rates drawn towards what all of them show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import betainc, betaincinv, betaln

from auditor.optics.arrays import ArrayLike, FloatArray, FloatLike, floats, plain

__all__ = [
    "BetaPrior",
    "beta_prior_by_likelihood",
    "beta_prior_by_moments",
    "james_stein",
    "posterior",
    "posterior_above",
]


@dataclass(frozen=True, slots=True)
class BetaPrior:
    """
    What all groups together say about one of them.

    Attributes
    ----------
    alpha, beta : float
        Kept and rejected frames that the prior is worth; infinite sum where the groups do not differ. [frames]
    """

    alpha: float
    beta: float

    @property
    def mean(self) -> float:
        """Rate of a group of which nothing is known."""
        return self.alpha / (self.alpha + self.beta)

    @property
    def correlation(self) -> float:
        """Intraclass correlation 1/(α+β+1): how much groups differ, 0-1."""
        return 1.0 / (self.alpha + self.beta + 1.0)


# A prior worth this many frames says "the groups do not differ".
_MOST_FRAMES = 1e6


def beta_prior_by_moments(kept: ArrayLike, judged: ArrayLike) -> BetaPrior:
    """
    Prior for keep rates from the spread of many groups, by moments.

    Parameters
    ----------
    kept, judged : array
        Successes and trials of each group. [frames]

    Returns
    -------
    BetaPrior
        Worth a million frames where the groups differ no more than by chance. [frames]

    Raises
    ------
    ValueError
        For fewer than two groups.

    Notes
    -----
    ICC = (s² / (μ(1-μ)/n) - 1)/(n - 1), n the harmonic mean of the trials. Valid for groups of similar size; with
    fewer than about 20 groups its strength is poorly known: show the interval and the raw count beside.

    References
    ----------
    .. [1] Y. Young-Xu and K. A. Chan, BMC Med. Res. Methodol. 8:58 (2008), for the model.

    Examples
    --------
    >>> prior = beta_prior_by_moments([18, 17, 16, 15, 14, 14, 13, 12, 11, 11] + [10] * 5 + [9, 8, 7], [45] * 18)
    >>> round(prior.alpha, 1), round(prior.beta, 1)
    (97.7, 270.3)
    """
    x, n = _groups(kept, judged)
    mean = float(x.sum() / n.sum())
    size = float(n.size / (1.0 / n).sum())
    chance = mean * (1.0 - mean) / size
    spread = float(np.var(x / n, ddof=1))
    excess = (spread / chance - 1.0) / max(size - 1.0, 1e-9) if chance > 0 else 0.0
    strength = _MOST_FRAMES if excess <= 1.0 / _MOST_FRAMES else max(1.0 / min(excess, 1.0) - 1.0, 1e-3)
    return BetaPrior(mean * strength, (1.0 - mean) * strength)


def _groups(kept: ArrayLike, judged: ArrayLike) -> tuple[FloatArray, FloatArray]:
    x, n = floats(kept), floats(judged)
    x, n = x[n > 0], n[n > 0]
    if n.size < 2:
        raise ValueError("a prior needs two groups or more in which something was judged")
    return x, n


def _likelihood(x: FloatArray, n: FloatArray, mean: float, strength: float) -> float:
    alpha, beta = mean * strength, (1.0 - mean) * strength
    return float((betaln(alpha + x, beta + n - x) - betaln(alpha, beta)).sum())


def beta_prior_by_likelihood(kept: ArrayLike, judged: ArrayLike) -> BetaPrior:
    """
    Prior for keep rates from many groups, by maximum likelihood.

    Parameters
    ----------
    kept, judged : array
        Successes and trials of each group. [frames]

    Returns
    -------
    BetaPrior
        Worth at most a million frames. [frames]

    Raises
    ------
    ValueError
        For fewer than two groups.

    Notes
    -----
    Valid for groups of any size; the likelihood is flat in the prior's strength when groups are few.

    References
    ----------
    .. [1] Beta-binomial likelihood (standard).

    Examples
    --------
    >>> prior = beta_prior_by_likelihood([1, 9, 2, 8], [10, 10, 10, 10])
    >>> round(prior.mean, 2)
    0.5
    """
    x, n = _groups(kept, judged)
    floor = 0.5 / float(n.sum())
    top = np.log(_MOST_FRAMES)

    def best_strength(mean: float) -> tuple[float, float]:
        found = minimize_scalar(
            lambda log_strength: -_likelihood(x, n, mean, float(np.exp(log_strength))),
            bounds=(np.log(1e-3), top),
            method="bounded",
            options={"xatol": 1e-6},
        )
        return float(found.fun), float(np.exp(found.x))

    found = minimize_scalar(
        lambda mean: best_strength(float(mean))[0],
        bounds=(floor, 1.0 - floor),
        method="bounded",
        options={"xatol": 1e-8},
    )
    mean = float(found.x)
    strength = best_strength(mean)[1]
    return BetaPrior(mean * strength, (1.0 - mean) * strength)


def posterior(
    kept: ArrayLike, judged: ArrayLike, prior: BetaPrior, confidence: float = 0.95
) -> tuple[FloatLike, FloatLike, FloatLike]:
    """
    Rate of each group after drawing it towards the prior.

    Parameters
    ----------
    kept, judged : int or array
        Successes and trials. [frames]
    prior : BetaPrior
        What all groups together say. [frames]
    confidence : float
        Two-sided probability. [-]

    Returns
    -------
    mean, low, high : float or array
        Posterior mean (α+x)/(α+β+n) and quantiles, broadcast. [-]

    Notes
    -----
    Valid for independent frames; show the raw count beside it.

    References
    ----------
    .. [1] Beta-binomial model (standard).

    Examples
    --------
    >>> mean, low, high = posterior(18, 45, BetaPrior(97.7, 270.3))
    >>> round(mean, 2)
    0.28
    """
    alpha = prior.alpha + floats(kept)
    beta = prior.beta + floats(judged) - floats(kept)
    tail = (1.0 - confidence) / 2.0
    return (
        plain(alpha / (alpha + beta)),
        plain(betaincinv(alpha, beta, tail)),
        plain(betaincinv(alpha, beta, 1.0 - tail)),
    )


def posterior_above(kept: ArrayLike, judged: ArrayLike, prior: BetaPrior, rate: ArrayLike) -> FloatLike:
    """
    Probability that a group's rate is above a value.

    Parameters
    ----------
    kept, judged : int or array
        Successes and trials. [frames]
    prior : BetaPrior
        What all groups together say. [frames]
    rate : float or array
        Value to compare with. [-]

    Returns
    -------
    float or array
        Posterior probability, broadcast. [-]

    Notes
    -----
    Valid for independent frames.

    References
    ----------
    .. [1] Beta-binomial model (standard).

    Examples
    --------
    >>> posterior_above(5, 10, BetaPrior(1.0, 1.0), 0.5)
    0.5
    """
    alpha = prior.alpha + floats(kept)
    beta = prior.beta + floats(judged) - floats(kept)
    return plain(1.0 - betainc(alpha, beta, floats(rate)))


def james_stein(rates: ArrayLike, trials: int) -> tuple[FloatArray, float]:
    """
    Rates drawn towards their mean by a common factor.

    Parameters
    ----------
    rates : array
        Rate of each group, four groups or more. [-]
    trials : int
        Trials of each group, the same for all. [frames]

    Returns
    -------
    shrunk : array
        mean + c (rate - mean). [-]
    factor : float
        c, cut at 0. [-]

    Raises
    ------
    ValueError
        For fewer than four groups.

    Notes
    -----
    Valid for rates whose errors are about normal and alike, σ² = μ(1-μ)/n.

    References
    ----------
    .. [1] B. Efron and C. Morris, Stein's Paradox in Statistics, Sci. Am. 236(5) (1977) 119-127.

    Examples
    --------
    >>> hits = [18, 17, 16, 15, 14, 14, 13, 12, 11, 11] + [10] * 5 + [9, 8, 7]
    >>> shrunk, factor = james_stein([x / 45 for x in hits], 45)
    >>> round(factor, 3), round(float(shrunk[0]), 3)
    (0.212, 0.294)
    """
    each = floats(rates)
    if each.size < 4:
        raise ValueError("drawing rates towards their mean needs four groups or more")
    mean = float(each.mean())
    spread = float(((each - mean) ** 2).sum())
    error = mean * (1.0 - mean) / trials
    factor = max(0.0, 1.0 - (each.size - 3) * error / spread) if spread > 0 else 0.0
    return mean + factor * (each - mean), factor
