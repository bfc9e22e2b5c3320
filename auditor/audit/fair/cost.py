"""What wrong settings cost: keepers probably lost, from the shake model and from the photographer's own keeping."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import expit

from auditor.audit.fair.keeping import Keeping
from auditor.audit.fair.shaking import Shaking, fit_shaking
from auditor.audit.fair.trials import Codes, Floats, Trials, strata_of

__all__ = ["CAUSE_GROUPINGS", "WRONG", "Cost", "setting_cost"]

WRONG = ("too-short", "too-long")
"""Verdicts of a wrong setting."""

CAUSE_GROUPINGS = {"lens": "lens", "trip": "trip", "cause": "setting_cause", "body": "body", "pairing": "pairing"}
"""What keepers lost can be counted by, and the column of each."""

_DRAWS = 300
_LEAST_RIGHT = 5

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Cost:
    """
    Keepers probably lost to wrong settings.

    Attributes
    ----------
    rows : DataFrame
        One row a group and a last one ``all``: ``id, wrong, failed`` (judged frames with a wrong setting, and those of
        them not kept), ``shake_lost, shake_low, shake_high`` by the shake model, ``kept_lost, kept_low, kept_high``
        by what was kept under the same conditions with the right setting, ``compared`` (failed frames for which there
        are such), ``differ`` (the two intervals do not meet). NaN where
        nothing is known to go by.
    judged_wrong, not_judged : int
        Frames with a wrong setting that were judged, and that never were and so are in no count.
    correlation : float
        How alike frames of one burst are.
    shaking : Shaking
        The hand and stabiliser that fit what was kept.
    """

    rows: pd.DataFrame
    judged_wrong: int
    not_judged: int
    correlation: float
    shaking: Shaking


def setting_cost(
    condensed: pd.DataFrame,
    trials: Trials,
    keeping: Keeping,
    *,
    by: str = "trip",
    hand: tuple[float, float],
    seed: int = 7,
) -> Cost:
    """
    Count the keepers probably lost to wrong settings.

    Parameters
    ----------
    condensed : DataFrame
        Columns of `auditor.audit.condensed.CONDENSED`.
    trials, keeping
        Of this table, by lens, with the setting among the conditions; nothing else is adjusted for on the way from the
        setting to the keeping.
    by : str
        Key of ``CAUSE_GROUPINGS``.
    hand : (exponent, spread_stops)
        Of the hand's shake.
    seed : int
        Of the draws that make the intervals.

    Returns
    -------
    Cost

    Notes
    -----
    A frame that was kept lost nothing. Of one that failed the chance that the right setting would have saved it is
    (P(kept | right) - P(kept | as set)) / (1 - P(kept | as set)): what is sharp at a wrong setting would be at the
    right one too. The intervals hold what is not known of the model and which of the frames it would have been.
    """
    wrong_rows = condensed["setting_verdict"].isin(WRONG).to_numpy(bool)
    judged_rows = condensed["kept"].to_numpy() >= 0
    wrong = wrong_rows[trials.place]
    failed = wrong & (trials.kept == 0.0)
    comparable = failed & _has_right_partner(trials, wrong)
    column = condensed[CAUSE_GROUPINGS[by]].astype("category").cat
    groups = _Groups(column.codes.to_numpy()[trials.place].astype(np.int64), len(column.categories), trials.worth)
    longer = 1.0 + (_length(trials.burst) - 1.0) * keeping.correlation
    shaking = fit_shaking(condensed.iloc[trials.place], trials.kept, longer, hand=hand)
    rng = np.random.default_rng(seed)
    rows = pd.DataFrame({"id": [*(str(name) for name in column.categories), "all"]})
    rows["wrong"], rows["failed"] = groups.count(wrong), groups.count(failed)
    _add_lost(rows, "shake", groups.tally(shaking.saved(rng, _DRAWS), failed, rng, longer))
    _add_lost(rows, "kept", groups.tally(_saved_by_keeping(trials, keeping, rng, longer), comparable, rng, longer))
    rows["compared"] = groups.count(comparable)
    for name, told in (("kept", rows["compared"]), ("shake", groups.count(failed & (shaking.cell >= 0)))):
        rows.loc[(rows["failed"] > 0) & (told == 0), [f"{name}_lost", f"{name}_low", f"{name}_high"]] = np.nan
    rows["differ"] = (rows["compared"] >= 0.95 * rows["failed"]) & (
        (rows["shake_low"] > rows["kept_high"]) | (rows["kept_low"] > rows["shake_high"])
    )
    rows = rows[(rows["wrong"] > 0) | (rows["id"] == "all")].reset_index(drop=True)
    judged_wrong, never = int((wrong_rows & judged_rows).sum()), int((wrong_rows & ~judged_rows).sum())
    return Cost(rows, judged_wrong, never, keeping.correlation, shaking)


@dataclass(frozen=True)
class _Groups:
    """Group of each frame, -1 for none; how many groups there are, after them comes ``all``; worth of each frame."""

    of_frame: Codes
    count_of: int
    worth: Floats

    def count(self, chosen: Mask, each: Floats | float = 1.0) -> Floats:
        """Return the sum over the chosen frames of each group, and of all."""
        places = np.flatnonzero(chosen)
        weight = np.broadcast_to(self.worth * each, chosen.shape)[places]
        group = self.of_frame[places]
        inside = np.bincount(group[group >= 0], weight[group >= 0], self.count_of)
        return np.asarray(np.r_[inside, weight.sum()], dtype=np.float64)

    def tally(self, draws: Iterable[Floats], chosen: Mask, rng: np.random.Generator, longer: float) -> Floats:
        """Return how many of the chosen frames would have been kept, groups × draws."""
        kept = []
        for saved in draws:
            error = np.sqrt(self.count(chosen, self.worth * saved * (1.0 - saved)) * longer)
            kept.append(self.count(chosen, saved) + error * rng.standard_normal(self.count_of + 1))
        return np.asarray(np.clip(np.column_stack(kept), 0.0, self.count(chosen)[:, np.newaxis]))


def _add_lost(rows: pd.DataFrame, name: str, draws: Floats) -> None:
    rows[f"{name}_lost"] = draws.mean(axis=1)
    rows[f"{name}_low"], rows[f"{name}_high"] = np.quantile(draws, [0.025, 0.975], axis=1)


def _has_right_partner(trials: Trials, wrong: Mask) -> Mask:
    """Whether enough frames were made under the same conditions with the right setting."""
    stratum = strata_of(trials, with_setting=False)
    right = np.bincount(stratum[~wrong], minlength=int(stratum.max(initial=-1)) + 1)
    return np.asarray((right >= _LEAST_RIGHT)[stratum])


def _saved_by_keeping(trials: Trials, keeping: Keeping, rng: np.random.Generator, longer: float) -> Iterator[Floats]:
    """Yield, for one draw of the model after another, the chance that the right setting would have saved each frame."""
    values, vectors = np.linalg.eigh(keeping.fit.covariance * longer)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    width = keeping.conditions.shape[1]
    right = keeping.at_right_setting
    for _ in range(_DRAWS):
        drawn = keeping.fit.coefficients + root @ rng.standard_normal(values.size)
        of_group = drawn[keeping.group_columns]
        effect = of_group[trials.group] if of_group.size else 0.0
        as_set = expit((keeping.conditions @ drawn[:width])[keeping.row] + effect)
        at_right = expit((right @ drawn[:width])[keeping.row] + effect)
        yield np.clip((at_right - as_set) / np.maximum(1.0 - as_set, 1e-9), 0.0, 1.0)


def _length(burst: Codes) -> float:
    """Mean frames in the burst of a frame."""
    size = np.bincount(burst)
    return float((size**2).sum() / max(size.sum(), 1))
