"""Shares of groups whose frames come in bursts: counts, and intervals for what the bursts are worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from auditor.stats.clustered_rates import group_correlations, group_design_effects
from auditor.stats.intervals import wilson

__all__ = ["BurstCounts", "count_in_bursts"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

_MOST_KINDS = 10_000_000


@dataclass(frozen=True)
class BurstCounts:
    """
    How many frames of each group were a yes, of how many; all arrays of shape (groups,).

    Attributes
    ----------
    trials, yes : array of int
        Frames that count, and those of them that were a yes. [frames]
    rate : array of float
        yes ÷ trials, NaN without trials, as are the ends of both intervals. [-]
    low, high : array of float
        Wilson's interval with each frame counted singly. [-]
    burst_low, burst_high : array of float
        Wilson's interval for as many frames as the bursts are worth. [-]
    bursts : array of int
        Runs of frames that were taken as one.
    design_effect : array of float
        Frames that are worth one independent frame. [-]
    correlation : float
        How alike frames of one burst are, over all groups. [-]
    """

    trials: Ints
    yes: Ints
    rate: Floats
    low: Floats
    high: Floats
    burst_low: Floats
    burst_high: Floats
    bursts: Ints
    design_effect: Floats
    correlation: float


def count_in_bursts(
    code: npt.NDArray[np.integer],
    yes: npt.NDArray[np.int8],
    burst: npt.NDArray[np.int32],
    groups: int,
    confidence: float = 0.95,
) -> BurstCounts:
    """
    Count the yeses of each group.

    Parameters
    ----------
    code : int array, shape (trials,)
        Group of each frame, from 0.
    yes : int array, shape (trials,)
        1 or 0.
    burst : int array, shape (trials,)
        Burst of each frame; frames of one burst lie together.
    groups : int
        How many groups there are.
    confidence : float
        Of the intervals.

    Returns
    -------
    BurstCounts
        A burst whose frames fall into several groups counts as a run in each.

    Examples
    --------
    >>> found = count_in_bursts(np.array([0, 0, 1]), np.array([1, 0, 1], np.int8), np.array([0, 0, 1], np.int32), 3)
    >>> found.trials.tolist(), found.yes.tolist(), found.rate.tolist()
    ([2, 1, 0], [1, 1, 0], [0.5, 1.0, nan])
    """
    runs = _runs(code, yes, burst)
    trials = np.bincount(runs.group, runs.alike * runs.trials, groups).astype(np.int64)
    hits = np.bincount(runs.group, runs.alike * runs.yes, groups).astype(np.int64)
    by_group, correlation = group_correlations(runs.yes, runs.trials, runs.group, alike=runs.alike)
    alike = np.full(groups, correlation)
    alike[: by_group.size] = by_group
    effect = group_design_effects(runs.trials, runs.group, alike, groups, alike=runs.alike)
    # Of nothing the interval is everything: it says nothing, and is left blank.
    known = trials > 0
    ends = (*wilson(hits, trials, confidence), *wilson(hits / effect, trials / effect, confidence))
    low, high, burst_low, burst_high = (np.where(known, end, np.nan) for end in ends)
    return BurstCounts(
        trials=trials,
        yes=hits,
        rate=hits / np.where(known, trials, np.nan),
        low=low,
        high=high,
        burst_low=burst_low,
        burst_high=burst_high,
        bursts=np.bincount(runs.group, runs.alike, groups).astype(np.int64),
        design_effect=effect,
        correlation=correlation,
    )


@dataclass(frozen=True)
class _Runs:
    """Frames of one burst in one group, counted; runs that are alike share an element."""

    group: Ints
    trials: Ints
    yes: Ints
    alike: Ints


def _runs(code: npt.NDArray[np.integer], yes: npt.NDArray[np.int8], burst: npt.NDArray[np.int32]) -> _Runs:
    if not code.size:
        return _Runs(*(np.zeros(0, np.int64) for _ in range(4)))
    begins = np.flatnonzero(np.r_[True, (burst[1:] != burst[:-1]) | (code[1:] != code[:-1])])
    trials = np.diff(np.r_[begins, code.size])
    return _alike(code[begins], trials, np.add.reduceat(yes, begins, dtype=np.int64))


def _alike(group: npt.NDArray[np.integer], trials: Ints, yes: Ints) -> _Runs:
    """Count runs of one group, length and number of yeses together: of millions of bursts a few hundred are left."""
    long = int(trials.max()) + 1
    kind = (group.astype(np.int64) * long + trials) * long + yes
    if int(kind.max()) < _MOST_KINDS:
        count = np.bincount(kind)
        kinds = np.flatnonzero(count)
        count = count[kinds]
    else:
        kinds, count = np.unique(kind, return_counts=True)
    return _Runs(kinds // long**2, kinds // long % long, kinds % long, count)
