"""The ledger: keep rates of groups of frames, with the doubt in them, and with what was left out and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.burst_counts import count_in_bursts
from auditor.audit.bursts import find_bursts
from auditor.audit.groupings import FOCAL_BANDS_MM, GROUPINGS, ORDERED, group_of
from auditor.audit.sharp_frames import Sharpness, count_sharp, sharp_codes
from auditor.stats.shrinkage import BetaPrior, beta_prior_by_likelihood, posterior

__all__ = ["FOCAL_BANDS_MM", "GROUPINGS", "Ledger", "keep_rates"]


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
        Beside them what the pixels say, `auditor.audit.sharp_frames.SHARP_COLUMNS`: ``sharp`` of ``sharp_judged``
        frames whose kind of blur is told, their rate with the same two intervals, and how many of the judged ones were
        kept and sharp, kept though soft, sharp but not kept, or neither. Bands come in their order, others with the
        most judged first.
    left_out : dict of str to int
        Frames not counted as judged, by reason.
    correlation : float
        How alike frames of one burst are, over all rows: 0 not at all, 1 always the same fate.
    prior : BetaPrior or None
        What all rows together say of one of them, in frames; None with fewer than two judged rows.
    sharpness : Sharpness or None
        What the pixels say of all counted frames; None where none of them was measured.
    """

    rows: pd.DataFrame
    left_out: dict[str, int]
    correlation: float = 0.0
    prior: BetaPrior | None = None
    sharpness: Sharpness | None = None


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
        bursts are found from; where neither is there every frame is a trial of its own. ``sharp`` or else
        ``blur_kind``, where frames were measured.
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
    groups = _Groups(code, _kept(frames["kept"]), _sharp(frames), _burst(frames, pause_s))
    if only:
        groups = groups.at(_chosen(frames, only))
    named = groups.code >= 0
    unnamed = int(named.size - named.sum())
    if unnamed:
        groups = groups.at(named)
    if np.any(groups.burst[1:] < groups.burst[:-1]):
        groups = groups.at(np.argsort(groups.burst, kind="stable"))
    rows, correlation, told = _counted(ids, groups, confidence)
    missing = "no trip, since there is no time" if by == "trip" else f"{by} not known"
    reasons = {"trip never judged": int((rows["frames"] - rows["judged"]).sum()), missing: unnamed}
    rows = _in_order(rows[rows["frames"] > 0], by)
    rows, prior = _drawn(rows, confidence)
    return Ledger(rows, {why: count for why, count in reasons.items() if count}, correlation, prior, told)


@dataclass(frozen=True)
class _Groups:
    """Frames with the group each is in; ``sharp`` is None where nothing was measured."""

    code: npt.NDArray[np.integer]
    kept: npt.NDArray[np.int8]
    sharp: npt.NDArray[np.int8] | None
    burst: npt.NDArray[np.int32]

    def at(self, places: npt.NDArray[np.bool_] | npt.NDArray[np.intp]) -> _Groups:
        """Return some of the frames, or all in another order."""
        sharp = None if self.sharp is None else self.sharp[places]
        return _Groups(self.code[places], self.kept[places], sharp, self.burst[places])


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


def _sharp(frames: pd.DataFrame) -> npt.NDArray[np.int8] | None:
    if "sharp" in frames.columns:
        return frames["sharp"].to_numpy(np.int8)
    return sharp_codes(frames["blur_kind"]) if "blur_kind" in frames.columns else None


def _burst(frames: pd.DataFrame, pause_s: float) -> npt.NDArray[np.int32]:
    return frames["burst"].to_numpy(np.int32) if "burst" in frames.columns else find_bursts(frames, pause_s)


def _chosen(frames: pd.DataFrame, only: Mapping[str, str]) -> npt.NDArray[np.bool_]:
    chosen = np.ones(len(frames), bool)
    for by, wanted in only.items():
        code, ids = _codes(group_of(frames, by))
        chosen &= code == (ids.index(wanted) if wanted in ids else len(ids))
    return chosen


def _counted(ids: list[str], groups: _Groups, confidence: float) -> tuple[pd.DataFrame, float, Sharpness | None]:
    """Count the frames that are in a group: all, kept, and sharp."""
    code, kept, burst = groups.code, groups.kept, groups.burst
    judged = kept >= 0
    found = count_in_bursts(code[judged], kept[judged], burst[judged], len(ids), confidence)
    sharp, told = count_sharp(code, kept, groups.sharp, burst, len(ids), confidence)
    rows = pd.DataFrame(
        {
            "id": pd.Series(ids, dtype="str"),
            "frames": sharp["sharp_judged"] + sharp["sharp_unknown"] + sharp["never_measured"],
            "judged": found.trials,
            "kept": found.yes,
            "keep_rate": found.rate,
            "low": found.low,
            "high": found.high,
            "burst_low": found.burst_low,
            "burst_high": found.burst_high,
            "bursts": found.bursts,
            "design_effect": found.design_effect,
        }
    )
    return pd.concat([rows, sharp], axis=1), found.correlation, told


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
