"""The ledger: keep rates of groups of frames, with the doubt in them, and with what was left out and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.bursts import find_bursts
from auditor.audit.groupings import FOCAL_BANDS_MM, GROUPINGS, ORDERED, group_of
from auditor.stats.clustered_rates import group_correlations, group_design_effects
from auditor.stats.intervals import wilson
from auditor.stats.shrinkage import BetaPrior, beta_prior_by_likelihood, posterior

__all__ = ["FOCAL_BANDS_MM", "GROUPINGS", "Ledger", "keep_rates"]

Ints = npt.NDArray[np.int64]

_MOST_KINDS = 10_000_000


@dataclass(frozen=True)
class Ledger:
    """
    Keep rates of the groups, and the frames that are in none.

    Attributes
    ----------
    rows : DataFrame
        One row a group: ``id, frames, judged, kept, keep_rate, low, high`` (Wilson's interval, each frame counted
        singly), ``bursts, design_effect, burst_low, burst_high`` (Wilson's interval for as many frames as the bursts
        are worth) and ``shrunk, shrunk_low, shrunk_high`` (drawn towards what all rows show; NaN with one row).
        Bands come in their order, others with the most judged first.
    left_out : dict of str to int
        Frames not counted as judged, by reason.
    correlation : float
        How alike frames of one burst are, over all rows: 0 not at all, 1 always the same fate.
    prior : BetaPrior or None
        What all rows together say of one of them, in frames; None with fewer than two judged rows.
    """

    rows: pd.DataFrame
    left_out: dict[str, int]
    correlation: float = 0.0
    prior: BetaPrior | None = None


def keep_rates(
    frames: pd.DataFrame,
    by: str,
    *,
    only: Mapping[str, str] | None = None,
    confidence: float = 0.95,
    pause_s: float = 2.0,
) -> Ledger:
    """
    Count judged and kept frames by one grouping, with the intervals of :class:`Ledger`.

    Parameters
    ----------
    frames : DataFrame
        The audit's columns and what the grouping needs (`auditor.audit.groupings.group_of`). ``burst``, or else what
        bursts are found from; where neither is there every frame is a trial of its own.
    by : str
        One of ``GROUPINGS``.
    only : mapping of str to str
        Groupings and the one group of each that is counted; the other frames are in no count.
    confidence : float
        Of the intervals.
    pause_s : float
        Longest pause inside a burst, where bursts have to be found. [s]

    Returns
    -------
    Ledger
        A burst whose frames fall into several rows counts as a run in each.

    Raises
    ------
    ValueError
        A grouping is not one of ``GROUPINGS``.

    Examples
    --------
    >>> audit = pd.DataFrame({"lens": ["orla-50"] * 3, "kept": pd.array([True, False, None], dtype="boolean")})
    >>> ledger = keep_rates(audit, "lens")
    >>> ledger.rows[["id", "frames", "judged", "kept"]].values.tolist(), ledger.left_out
    ([['orla-50', 3, 2, 1]], {'trip never judged': 1})
    """
    code, ids = _codes(group_of(frames, by))
    kept, burst = _kept(frames["kept"]), _burst(frames, pause_s)
    if only:
        chosen = _chosen(frames, only)
        code, kept, burst = code[chosen], kept[chosen], burst[chosen]
    if np.any(burst[1:] < burst[:-1]):
        order = np.argsort(burst, kind="stable")
        code, kept, burst = code[order], kept[order], burst[order]
    judged = (kept >= 0) & (code >= 0)
    all_frames = np.bincount(code[code >= 0], minlength=len(ids))
    unnamed = int(code.size - all_frames.sum())
    missing = "no trip, since there is no time" if by == "trip" else f"{by} not known"
    reasons = {"trip never judged": int(all_frames.sum() - judged.sum()), missing: unnamed}
    runs = _runs(code[judged], kept[judged], burst[judged])
    rows, correlation = _counted(ids, all_frames, runs, confidence)
    rows = _in_order(rows[rows["frames"] > 0], by)
    rows, prior = _drawn(rows, confidence)
    return Ledger(rows, {why: count for why, count in reasons.items() if count}, correlation, prior)


@dataclass(frozen=True)
class _Runs:
    """Frames of one burst in one row, counted: the trials of the ledger; runs that are alike share an element."""

    group: Ints
    judged: Ints
    kept: Ints
    alike: Ints


def _codes(group: pd.Series) -> tuple[npt.NDArray[np.integer], list[str]]:
    """Return the number of each frame's group, -1 where it is in none, and their names."""
    if isinstance(group.dtype, pd.CategoricalDtype):
        return group.cat.codes.to_numpy(), [str(name) for name in group.cat.categories]
    codes, names = pd.factorize(group, sort=True)
    return codes, [str(name) for name in names]


def _kept(kept: pd.Series) -> npt.NDArray[np.int8]:
    """Return 1 for kept, 0 for not, -1 for never judged."""
    if kept.dtype == np.int8:
        return np.asarray(kept.to_numpy(), dtype=np.int8)
    return np.asarray(kept.astype("boolean").astype("Int8").fillna(-1).to_numpy(np.int8))


def _burst(frames: pd.DataFrame, pause_s: float) -> npt.NDArray[np.int32]:
    return frames["burst"].to_numpy(np.int32) if "burst" in frames.columns else find_bursts(frames, pause_s)


def _chosen(frames: pd.DataFrame, only: Mapping[str, str]) -> npt.NDArray[np.bool_]:
    chosen = np.ones(len(frames), bool)
    for by, wanted in only.items():
        code, ids = _codes(group_of(frames, by))
        chosen &= code == (ids.index(wanted) if wanted in ids else len(ids))
    return chosen


def _runs(code: npt.NDArray[np.integer], kept: npt.NDArray[np.int8], burst: npt.NDArray[np.int32]) -> _Runs:
    if not code.size:
        return _Runs(*(np.zeros(0, np.int64) for _ in range(4)))
    begins = np.flatnonzero(np.r_[True, (burst[1:] != burst[:-1]) | (code[1:] != code[:-1])])
    judged = np.diff(np.r_[begins, code.size])
    return _alike(code[begins], judged, np.add.reduceat(kept, begins, dtype=np.int64))


def _alike(group: npt.NDArray[np.integer], judged: Ints, kept: Ints) -> _Runs:
    """Count runs of one group, length and keepers together: of millions of bursts a few hundred kinds are left."""
    long = int(judged.max()) + 1
    kind = (group.astype(np.int64) * long + judged) * long + kept
    if int(kind.max()) < _MOST_KINDS:
        count = np.bincount(kind)
        kinds = np.flatnonzero(count)
        count = count[kinds]
    else:
        kinds, count = np.unique(kind, return_counts=True)
    return _Runs(kinds // long**2, kinds // long % long, kinds % long, count)


def _counted(ids: list[str], all_frames: Ints, runs: _Runs, confidence: float) -> tuple[pd.DataFrame, float]:
    groups = len(ids)
    judged = np.bincount(runs.group, runs.alike * runs.judged, groups).astype(np.int64)
    kept = np.bincount(runs.group, runs.alike * runs.kept, groups).astype(np.int64)
    by_group, correlation = group_correlations(runs.kept, runs.judged, runs.group, alike=runs.alike)
    alike = np.full(groups, correlation)
    alike[: by_group.size] = by_group
    effect = group_design_effects(runs.judged, runs.group, alike, groups, alike=runs.alike)
    # Of nothing judged the interval is everything: it says nothing, and is left blank.
    known = judged > 0
    low, high = wilson(kept, judged, confidence)
    burst_low, burst_high = wilson(kept / effect, judged / effect, confidence)
    rows = pd.DataFrame({"id": pd.Series(ids, dtype="str"), "frames": all_frames, "judged": judged, "kept": kept})
    rows["keep_rate"] = kept / np.where(known, judged, np.nan)
    ends = {"low": low, "high": high, "burst_low": burst_low, "burst_high": burst_high}
    for name, values in ends.items():
        rows[name] = np.where(known, values, np.nan)
    rows["bursts"] = np.bincount(runs.group, runs.alike, groups).astype(np.int64)
    rows["design_effect"] = effect
    return rows, correlation


def _in_order(rows: pd.DataFrame, by: str) -> pd.DataFrame:
    if by not in ORDERED:
        rows = rows.sort_values(["judged", "frames", "id"], ascending=[False, False, True], kind="stable")
    return rows.reset_index(drop=True)


def _drawn(rows: pd.DataFrame, confidence: float) -> tuple[pd.DataFrame, BetaPrior | None]:
    """Draw each rate towards what all rows show, the more the fewer frames it rests on."""
    trials = rows["judged"].to_numpy(np.float64) / rows["design_effect"].to_numpy(np.float64)
    keepers = rows["kept"].to_numpy(np.float64) / rows["design_effect"].to_numpy(np.float64)
    names = ("shrunk", "shrunk_low", "shrunk_high")
    if int((trials > 0).sum()) < 2:
        return rows.assign(**dict.fromkeys(names, np.nan)), None
    prior = _no_surer_than(beta_prior_by_likelihood(keepers, trials), float(trials.sum()))
    return rows.assign(**dict(zip(names, posterior(keepers, trials, prior, confidence), strict=True))), prior


def _no_surer_than(prior: BetaPrior, frames: float) -> BetaPrior:
    """Let what all rows say weigh no more than all their frames: a few alike rows do not prove that all are alike."""
    share = min(1.0, frames / (prior.alpha + prior.beta))
    return BetaPrior(prior.alpha * share, prior.beta * share)
