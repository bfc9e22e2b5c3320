"""What blurred a frame: one rule fitted on photographs with known blur, which may also say that it cannot tell."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from auditor.vision.looks import Look

__all__ = ["ANSWER_FROM", "FEATURES", "KINDS", "Decision", "Rule", "decide", "features", "load_rules", "shares"]

KINDS = ("sharp", "shake", "missed-focus")
"""What the rule tells apart, in the order of its shares."""

ANSWER_FROM = 0.70
"""Below this confidence nothing is said. [-]"""

FEATURES = (
    "crispest",
    "worst_orientation",
    "edge_anisotropy",
    "finer",
    "spectrum_anisotropy",
    "motion_amplitude",
    "clear_of_noise",
)
"""What the rule reads of a look; logarithms of slopes, the others as they are."""

_FARTHEST = 4.0


@dataclass(frozen=True)
class Rule:
    """
    A multinomial logistic rule over standardised features.

    Attributes
    ----------
    mean, spread : array of float, shape (n,)
        Of each feature where the rule was fitted.
    coefficients : array of float, shape (n + 1, 3)
        Constant first; one column a kind.
    """

    mean: NDArray[np.float64]
    spread: NDArray[np.float64]
    coefficients: NDArray[np.float64]


@dataclass(frozen=True)
class Decision:
    """
    A kind of blur and how sure it is.

    Attributes
    ----------
    kind : str
        sharp, shake, missed-focus, unknown.
    confidence : float
        The share of the likeliest kind, also where it was not enough to say it; 0 when nothing could be measured. [-]
    shares : tuple of float
        In the order of `KINDS`; empty when nothing could be measured.
    """

    kind: str
    confidence: float
    shares: tuple[float, ...]


def features(look: Look) -> NDArray[np.float64] | None:
    """
    Return what the rule reads of a look, in the order of `FEATURES`.

    Returns
    -------
    array of float, shape (7,), or None
        None when the picture has too few edges, or edges of too few orientations. What a spectrum would tell is NaN
        where the picture is too small for one.
    """
    finest = look.edges[0]
    oriented = finest.at_crispest if np.isfinite(finest.at_crispest.worst) else finest.everywhere
    if not np.isfinite(finest.crispest) or not np.isfinite(oriented.worst):
        return None
    coarser = look.edges[1].crispest if len(look.edges) > 1 else float("nan")
    motion = look.motion
    return np.array(
        [
            np.log(max(finest.crispest, _LEAST_SLOPE)),
            np.log(max(oriented.worst, _LEAST_SLOPE)),
            oriented.anisotropy,
            np.log(max(finest.crispest, _LEAST_SLOPE) / coarser) if np.isfinite(coarser) and coarser > 0 else 0.0,
            motion.anisotropy if motion else np.nan,
            motion.amplitude if motion else np.nan,
            motion.clear if motion else np.nan,
        ]
    )


_LEAST_SLOPE = 0.02


def shares(rule: Rule, read: NDArray[np.float64]) -> NDArray[np.float64]:
    """
    Return the probability of each kind.

    Parameters
    ----------
    rule : Rule
    read : array of float, shape (n,)
        Features; NaN counts as the mean.

    Returns
    -------
    array of float, shape (3,)
        In the order of `KINDS`; sums to 1.

    References
    ----------
    .. [1] D. R. Cox, E. J. Snell, Analysis of Binary Data, 2nd ed. (1989), sec. 4.1: multinomial logistic regression.
    .. [2] C. K. Chow, On optimum recognition error and reject tradeoff, IEEE Trans. Inf. Theory 16(1):41 (1970).

    Examples
    --------
    >>> even = Rule(np.zeros(2), np.ones(2), np.zeros((3, 3)))
    >>> shares(even, np.array([0.3, np.nan])).round(2).tolist()
    [0.33, 0.33, 0.33]
    """
    standard = np.clip(np.nan_to_num((read - rule.mean) / rule.spread), -_FARTHEST, _FARTHEST)
    score = rule.coefficients[0] + standard @ rule.coefficients[1:]
    odds = np.exp(score - score.max())
    return np.asarray(odds / odds.sum(), np.float64)


def decide(look: Look, *, full_size: bool) -> Decision:
    """
    Tell what blurred a frame, from one look at it.

    Parameters
    ----------
    look : Look
    full_size : bool
        Whether the look was at full size; each size has its rule.

    Returns
    -------
    Decision
    """
    read = features(look)
    if read is None:
        return Decision("unknown", 0.0, ())
    found = shares(load_rules()["full" if full_size else "half"], read)
    best = int(np.argmax(found))
    kind = KINDS[best] if found[best] >= ANSWER_FROM else "unknown"
    return Decision(kind, float(found[best]), tuple(float(share) for share in found))


@lru_cache(maxsize=1)
def load_rules() -> dict[str, Rule]:
    """
    Return the fitted rules, for looks at half size and at full size.

    They are made by ``tests/benchmarks/vision/fit.py``; the file says on which scenes.

    Examples
    --------
    >>> sorted(load_rules())
    ['full', 'half']
    """
    document = json.loads((files("auditor.vision") / "rules.json").read_text(encoding="utf-8"))
    return {
        name: Rule(*(np.array(rule[part], np.float64) for part in ("mean", "spread", "coefficients")))
        for name, rule in document["rules"].items()
    }
