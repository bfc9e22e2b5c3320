"""
Whether what changed between two frames of a scene was drawn out by its motion in one of them.

That something changed proves nothing: a subject walked on, another one came. So the changed parts are judged by what
the frame itself shows in them: soft across one direction and crisp along it, with the stripes of straight motion in
the spectrum, while what did not change is crisp every way (then the camera stood still).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from auditor.vision.change import Change
from auditor.vision.changed_windows import ALIKE_DEG, apart_deg, windows

__all__ = ["MOST_PX", "DrawnOut", "Rule", "drawn_out", "load_rule", "together"]

MOST_PX = 9_000_000
"""A frame of more pixels is judged at half size."""


@dataclass(frozen=True)
class DrawnOut:
    """
    How sure it is that something in a frame moved while the shutter was open.

    Attributes
    ----------
    score : float
        Of the window that looks most like it, with those that show about the same; −inf when none can be judged. [-]
    direction_deg : float
        Of the motion there, counter-clockwise, 0–180; NaN when no part can be judged. [deg]
    """

    score: float
    direction_deg: float


@dataclass(frozen=True)
class Rule:
    """
    A logistic rule over standardised clues, and what its score is worth.

    Attributes
    ----------
    mean, spread : array of float, shape (n,)
    coefficients : array of float, shape (n + 1,)
        Constant first.
    calibration : tuple of float
        Constant and slope of the log-odds that a subject moved, over the score.
    answer_from : float
        Score from which it is said.
    """

    mean: NDArray[np.float64]
    spread: NDArray[np.float64]
    coefficients: NDArray[np.float64]
    calibration: tuple[float, float]
    answer_from: float

    def score(self, clues: NDArray[np.float64]) -> float:
        """Return the log-odds of one window's clues."""
        return float(self.coefficients[0] + (clues - self.mean) / self.spread @ self.coefficients[1:])

    def confidence(self, score: float) -> float:
        """Return how sure a score makes it, 0–1."""
        return float(1 / (1 + np.exp(-(self.calibration[0] + self.calibration[1] * score))))


@lru_cache(maxsize=1)
def load_rule() -> Rule:
    """
    Return the fitted rule.

    It is made by ``tests/benchmarks/vision/drawn_out.py``; the file says on which scenes.

    Examples
    --------
    >>> load_rule().coefficients.size - load_rule().mean.size
    1
    """
    made = json.loads((files("auditor.vision") / "drawn_out.json").read_text(encoding="utf-8"))
    mean, spread, coefficients = (np.array(made[part], np.float64) for part in ("mean", "spread", "coefficients"))
    constant, slope = made["calibration"]
    return Rule(mean, spread, coefficients, (constant, slope), float(made["answer_from"]))


def drawn_out(picture: NDArray[np.uint8], found: Change) -> DrawnOut:
    """
    Judge the changed parts of a frame.

    Parameters
    ----------
    picture : array of uint8, shape (height, width)
        The frame, upright; at full size, or reduced where it has more than `MOST_PX`.
    found : Change
        The frame beside a sibling.

    Returns
    -------
    DrawnOut

    Examples
    --------
    >>> nothing = np.zeros((40, 60), bool)
    >>> drawn_out(np.zeros((640, 960), np.uint8), Change(nothing, nothing, 0.0, 0.0)).score
    -inf
    """
    rule, judged = load_rule(), windows(picture, found)
    if not judged:
        return DrawnOut(float("-inf"), float("nan"))
    scores = together([rule.score(one.clues) for one in judged], [one.direction_deg for one in judged])
    best = int(np.argmax(scores))
    return DrawnOut(scores[best], judged[best].direction_deg)


def together(scores: Sequence[float], directions_deg: Sequence[float]) -> list[float]:
    """
    Return the score of each window with those that show about the same direction.

    Examples
    --------
    >>> together([3.0, 1.0, 5.0], [10.0, 15.0, 90.0])
    [3.3, 1.9, 4.0]
    """
    found = []
    for one, (score, direction) in enumerate(zip(scores, directions_deg, strict=True)):
        others = [
            max(scores[other], _LEAST_COUNTED)
            for other in range(len(scores))
            if other != one and apart_deg(directions_deg[other], direction) < ALIKE_DEG
        ]
        found.append(score + _SHARE * sum(sorted(others)[-_MOST_COUNTED:]) if others else score - _ALONE)
    return found


_LEAST_COUNTED, _MOST_COUNTED, _SHARE, _ALONE = -2.0, 4, 0.3, 1.0
