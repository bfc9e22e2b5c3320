"""Several frames of one subject: the chance that one is sharp."""

from __future__ import annotations

import numpy as np
from scipy.special import betaln

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = ["best_of_gain_stops", "frames_for_chance", "one_sharp_probability"]

_MOST_FRAMES = 1000


def one_sharp_probability(probability: ArrayLike, frames: ArrayLike, correlation: float = 0.0) -> FloatLike:
    """
    Probability of at least one sharp frame.

    Parameters
    ----------
    probability : float or array
        Probability that one frame is sharp, 0-1. [-]
    frames : int or array
        Frames taken. [-]
    correlation : float
        How alike frames of one burst are, from 0 (independent) to below 1 (intraclass correlation). [-]

    Returns
    -------
    float or array
        Probability, broadcast. [-]

    Notes
    -----
    1 - (1-p)^n, or 1 - B(A, B+n)/B(A, B) with A = p(1-ρ)/ρ and B = (1-p)(1-ρ)/ρ. Valid for 0 ≤ ρ < 1.

    References
    ----------
    .. [1] Binomial and beta-binomial distributions (standard).

    Examples
    --------
    >>> round(one_sharp_probability(0.3, 5), 4)
    0.8319
    >>> round(one_sharp_probability(0.3, 5, 0.3), 4)
    0.6417
    """
    chance, count = floats(probability), floats(frames)
    if correlation == 0.0:
        return plain(1.0 - (1.0 - chance) ** count)
    inside = np.clip(chance, 1e-12, 1.0 - 1e-12)
    strength = (1.0 - correlation) / correlation
    alpha, beta = inside * strength, (1.0 - inside) * strength
    return plain(-np.expm1(betaln(alpha, beta + count) - betaln(alpha, beta)))


def frames_for_chance(probability: ArrayLike, chance: float = 0.95, correlation: float = 0.0) -> FloatLike:
    """
    Frames to shoot for a chance of at least one sharp.

    Parameters
    ----------
    probability : float or array
        Probability that one frame is sharp, 0-1. [-]
    chance : float
        Chance wanted, below 1. [-]
    correlation : float
        How alike frames of one burst are. [-]

    Returns
    -------
    float or array
        Smallest whole number of frames; infinite above 1000; NaN where the probability is not known. [-]

    Notes
    -----
    Valid as `one_sharp_probability`. With correlation the number rises steeply: a pause between frames is worth more.

    References
    ----------
    .. [1] Binomial and beta-binomial distributions (standard).

    Examples
    --------
    >>> frames_for_chance([0.5, 0.3, 0.1])
    array([ 5.,  9., 29.])
    """
    counts = np.arange(1, _MOST_FRAMES + 1)
    each = floats(probability)
    reached = floats(one_sharp_probability(each[..., np.newaxis], counts, correlation)) >= chance - 1e-12
    first = np.where(reached.any(axis=-1), counts[np.argmax(reached, axis=-1)], np.inf)
    return plain(np.where(np.isnan(each), np.nan, first))


def best_of_gain_stops(frames: ArrayLike, exponent: ArrayLike = 1.0) -> FloatLike:
    """
    Gain from choosing the steadiest of several frames.

    Parameters
    ----------
    frames : int or array
        Independent frames, one or more. [-]
    exponent : float or array
        H; 1 gives stops of blur, the hand's own gives stops of exposure time. [-]

    Returns
    -------
    float or array
        log2(√n) / H, broadcast. [stop]

    Notes
    -----
    The least of n Rayleigh lengths is Rayleigh with σ/√n. Valid for independent frames.

    References
    ----------
    .. [1] Order statistics of the Rayleigh distribution (standard).

    Examples
    --------
    >>> best_of_gain_stops(4)
    1.0
    """
    return plain(0.5 * np.log2(positive(frames)) / floats(exponent))
