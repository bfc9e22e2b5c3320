"""Direct standardisation helped by a model: strata do the comparing, the model evens out what differs inside them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr, stdtrit

from auditor.optics.arrays import ArrayLike, FloatArray, floats
from auditor.stats.differences import newcombe_difference
from auditor.stats.intervals import wilson

__all__ = ["AssistedRate", "Difference", "Outcomes", "assisted_rate", "rate_difference", "rate_interval"]


@dataclass(frozen=True, slots=True)
class Outcomes:
    """
    What became of frames, and how likely a model says that was.

    Attributes
    ----------
    kept : array, shape (n,)
        1 kept, 0 not. [-]
    chance : array, shape (n,)
        Probability that the model gives each as it was made. [-]
    burst : int array, shape (n,)
        Burst of each.
    correlation : float
        How alike frames of one burst are, beyond what the model says. [-]
    """

    kept: FloatArray
    chance: FloatArray
    burst: NDArray[np.integer]
    correlation: float = 0.0

    def error(self, influence: FloatArray) -> float:
        """Return the standard error of a sum of influence × (kept - chance)."""
        # A frame's variance may not vanish because the model is sure of it: it has seen a sample only.
        least = 0.5 / (self.kept.size + 1.0)
        inside = np.clip(self.chance, least, 1.0 - least)
        weight = influence * np.sqrt(inside * (1.0 - inside))
        _, number = np.unique(self.burst, return_inverse=True)
        whole = float((np.bincount(number, weight) ** 2).sum())
        return float((self.correlation * whole + (1.0 - self.correlation) * float((weight**2).sum())) ** 0.5)


@dataclass(frozen=True, slots=True)
class AssistedRate:
    """
    A keep rate at a given mix of conditions.

    Attributes
    ----------
    rate : float
        Keep rate at that mix, 0-1. [-]
    error : float
        Its standard error. [-]
    frames, bursts : int
        What it rests on.
    influence : array
        How much the rate would change with each frame's fate; empty where it is not known. [-]
    """

    rate: float
    error: float
    frames: int
    bursts: int
    influence: FloatArray = field(default_factory=lambda: np.zeros(0), repr=False)

    @property
    def worth(self) -> float:
        """Independent frames, all under the same conditions, that would be as sure. [frames]."""
        inside = (self.rate * self.frames + 1.0) / (self.frames + 2.0)
        return inside * (1.0 - inside) / self.error**2


@dataclass(frozen=True, slots=True)
class Difference:
    """
    Difference of two rates.

    Attributes
    ----------
    difference, low, high : float
        First less second, with its interval. [-]
    p_value : float
        Of no difference, two-sided. [-]
    """

    difference: float
    low: float
    high: float
    p_value: float


def assisted_rate(
    outcomes: Outcomes,
    side: NDArray[np.bool_],
    stratum: NDArray[np.integer],
    *,
    expected: ArrayLike,
    mix: tuple[ArrayLike, ArrayLike],
    model_influence: ArrayLike = 0.0,
) -> AssistedRate:
    """
    Keep rate that a group would have at a given mix of strata.

    Parameters
    ----------
    outcomes : Outcomes
        Of all frames that the model was fitted to.
    side : bool array, shape (n,)
        Frames of the group that are used.
    stratum : int array, shape (n,)
        Stratum of each, from 0; every stratum with a share in the mix has a frame of the group.
    expected : array, shape (n,)
        Probability that the model gives each frame with the group. [-]
    mix : (share, expected), arrays of shape (strata,)
        Share of each stratum in the mix, sum 1, and the mean probability that the model gives the group over the
        conditions of the mix in that stratum. [-]
    model_influence : array, shape (n,)
        How much each frame's fate moves the rate by way of the model. [-]

    Returns
    -------
    AssistedRate
        Σ share (expected + mean of kept - expected in the stratum), cut to 0-1. [-]

    Notes
    -----
    Where the model knows the stratum alone this is direct standardisation exactly, whatever the model says. Valid if
    either the strata are fine enough or the model is. The error takes each frame's variance from the model and the
    strata as given.

    References
    ----------
    .. [1] C.-E. Särndal, B. Swensson and J. Wretman, Model Assisted Survey Sampling (1992), difference estimator (from
       memory); J. M. Robins, A. Rotnitzky and L. P. Zhao, J. Am. Stat. Assoc. 89 (1994) 846-866 (from memory).

    Examples
    --------
    >>> seen = Outcomes(np.array([1.0, 0.0, 0.0, 0.0]), np.array([0.4, 0.4, 0.1, 0.1]), np.arange(4))
    >>> rate = assisted_rate(seen, np.full(4, True), np.array([0, 0, 1, 1]), expected=seen.chance,
    ...     mix=([0.5, 0.5], [0.4, 0.1]))
    >>> rate.rate, rate.frames
    (0.25, 4)
    """
    share, at_mix = floats(mix[0]), floats(mix[1])
    count = np.bincount(stratum[side], minlength=share.size).astype(np.float64)
    used = share > 0
    left = np.bincount(stratum[side], (outcomes.kept - floats(expected))[side], share.size)
    rate = float((share[used] * (at_mix[used] + left[used] / count[used])).sum())
    influence = np.where(side, (share / np.maximum(count, 1.0))[stratum], 0.0) + floats(model_influence)
    bursts = np.unique(outcomes.burst[side]).size
    return AssistedRate(float(np.clip(rate, 0.0, 1.0)), outcomes.error(influence), int(side.sum()), bursts, influence)


def rate_interval(rate: AssistedRate, confidence: float = 0.95) -> tuple[float, float]:
    """
    Interval of a rate at a mix: Wilson's, for as many frames as it is worth.

    Parameters
    ----------
    rate : AssistedRate
        Rate with its error. [-]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    low, high : float
        Proportions, 0-1. [-]

    Notes
    -----
    Widened as Student's t is for the bursts it rests on. Valid for about ten bursts and more.

    References
    ----------
    .. [1] Wilson's interval at an effective number of trials: E. L. Korn and B. I. Graubard, Surv. Methodol. 24 (1998)
       193-201 (from memory, there for the exact interval).

    Examples
    --------
    >>> low, high = rate_interval(AssistedRate(0.5, 0.05, 100, 100))
    >>> round(low, 2), round(high, 2)
    (0.4, 0.6)
    """
    worth = _worth(rate, confidence)
    low, high = wilson(rate.rate * worth, worth, confidence)
    return float(low), float(high)


def _worth(rate: AssistedRate, confidence: float) -> float:
    """Worth in frames, less what few bursts leave unsure about the error itself."""
    freedom = max(rate.bursts - 1, 1)
    wider = float(stdtrit(freedom, 0.5 + confidence / 2.0)) / float(ndtri(0.5 + confidence / 2.0))
    return rate.worth / wider**2


def rate_difference(
    first: AssistedRate, second: AssistedRate, *, error: float | None = None, confidence: float = 0.95
) -> Difference:
    """
    Difference of two rates at one mix, with its interval.

    Parameters
    ----------
    first, second : AssistedRate
        Rates with their errors, at the same mix. [-]
    error : float, optional
        Standard error of the difference, where one model makes the two rates move together. [-]
    confidence : float
        Two-sided confidence. [-]

    Returns
    -------
    Difference
        First less second. [-]

    Notes
    -----
    The interval is the hybrid of the two score intervals, stretched by what the error differs from that of two rates
    apart; the p-value is Student's with the freedom of Satterthwaite. Valid for different frames in the two groups.

    References
    ----------
    .. [1] R. G. Newcombe, Stat. Med. 17 (1998) 873-890, method 10; F. E. Satterthwaite, Biometrics Bull. 2 (1946)
       110-114 (from memory).

    Examples
    --------
    >>> found = rate_difference(AssistedRate(0.5, 0.04, 200, 200), AssistedRate(0.5, 0.03, 300, 300))
    >>> found.difference, found.p_value, found.low < 0 < found.high
    (0.0, 1.0, True)
    """
    worths = [_worth(rate, confidence) for rate in (first, second)]
    counts = [(rate.rate * worth, worth) for rate, worth in zip((first, second), worths, strict=True)]
    difference, low, high = (float(value) for value in newcombe_difference(counts[0], counts[1], confidence))
    spread = (first.error**2, second.error**2)
    apart = sum(spread) ** 0.5
    together = apart if error is None else error
    parts = [part**2 / max(rate.bursts - 1, 1) for rate, part in zip((first, second), spread, strict=True)]
    p_value = 2.0 * float(stdtr(apart**4 / sum(parts), -abs(difference) / together))
    low = difference - (difference - low) * together / apart
    high = difference + (high - difference) * together / apart
    return Difference(difference, low, high, p_value)
