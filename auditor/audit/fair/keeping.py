"""A model of keeping: how likely a frame was kept, by its conditions and by what it was made with."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from auditor.audit.fair.trials import Codes, Floats, Trials
from auditor.stats.clustered_rates import correlation_beyond
from auditor.stats.logistic import BinaryFit, fit_binary, predicted_probability

__all__ = ["Keeping", "fit_keeping"]

_MOST_TRIPS = 60
_ROWS_AS_THEY_ARE = 20_000
_WEAK, _WEAK_FOR_GROUPS = 2.5, 1.5
_SETTING = slice(7, 9)  # where the columns of the setting lie among the conditions


@dataclass(frozen=True)
class Keeping:
    """
    A fitted model of keeping.

    Attributes
    ----------
    fit : BinaryFit
        Constant, conditions, then groups.
    conditions : array, shape (rows, columns)
        Columns of the conditions; frames under the same conditions share a row.
    row : int array, shape (frames,)
        Row of each frame.
    with_setting : bool
        Whether what the setting cost is among the conditions.
    correlation : float
        How alike frames of one burst are beyond what the model says.
    group_columns : slice
        Where the groups lie among the coefficients.
    difficulty_scale_stops : float
        What one unit of the column of difficulty stands for. [stop]
    """

    fit: BinaryFit
    conditions: Floats
    row: Codes
    with_setting: bool
    correlation: float
    group_columns: slice
    difficulty_scale_stops: float

    def easier(self, stops: float) -> Keeping:
        """Return the same model with every frame made so many stops of exposure time faster."""
        shifted = self.conditions.copy()
        shifted[:, 1] -= stops / self.difficulty_scale_stops
        shifted[:, 2] = shifted[:, 1] ** 2
        shifted[:, 4] = shifted[:, 3] * shifted[:, 1]
        return replace(self, conditions=shifted)

    @property
    def at_right_setting(self) -> Floats:
        """The conditions as they would have been with nothing lost to the setting."""
        right = self.conditions.copy()
        right[:, _SETTING] = 0.0
        return right

    def group_effects(self) -> Floats:
        """Effect of each group on the logit of keeping; the mean of all is about 0."""
        effects: Floats = self.fit.coefficients[self.group_columns]
        return effects

    def expected(self, effect: float | Floats) -> Floats:
        """
        Return the probability that each frame would be kept with a group's effect.

        Parameters
        ----------
        effect : float or array, shape (frames,)
            On the logit of keeping.
        """
        base = self.conditions @ self.fit.coefficients[: self.conditions.shape[1]]
        chance: Floats = predicted_probability((base[self.row] + effect)[:, np.newaxis], [1.0])
        return chance

    def influence(self, group: Codes, by_row: Floats, of_groups: Floats) -> Floats:
        """
        Return how much each frame's fate moves, by way of the fit, a sum of expected probabilities.

        Parameters
        ----------
        group : int array, shape (frames,)
            Group of each frame.
        by_row : array, shape (frames,)
            Slope of the sum over each frame's logit.
        of_groups : array, shape (groups,)
            Share of each group in the effect that was put in.
        """
        slopes = np.bincount(self.row, by_row, self.conditions.shape[0])
        gradient = np.r_[self.conditions.T @ slopes, of_groups[: self.group_effects().size] * by_row.sum()]
        moves = self.fit.covariance @ gradient
        of_group = moves[self.group_columns]
        base = (self.conditions @ moves[: self.conditions.shape[1]])[self.row]
        return np.asarray(base + of_group[group] if of_group.size else base, dtype=np.float64)


def fit_keeping(trials: Trials, *, with_setting: bool = True, with_body: bool = True) -> Keeping:
    """
    Fit a logistic model with weak priors: difficulty, light, support, stabiliser, body, trip, setting and group.

    Parameters
    ----------
    trials : Trials
    with_setting : bool
        Whether what the setting cost is among the conditions (`strata_of`).
    with_body : bool
        Whether the body is; not where bodies are what is compared.

    Returns
    -------
    Keeping

    Notes
    -----
    Of more than 20 000 frames those under conditions alike to a quarter of a stop, half of one for light, share a row;
    of more than 60 trips the smallest share a level.
    """
    rows, row = _rows(trials)
    conditions, deviations = _conditions(trials, rows, with_setting=with_setting, with_body=with_body)
    groups = _levels(trials.group[rows], len(trials.ids))
    design = np.hstack([conditions, groups])
    weight = np.bincount(row, minlength=len(rows)).astype(np.float64)
    share = np.bincount(row, trials.kept, len(rows)) / weight
    prior = np.r_[deviations, np.full(groups.shape[1], _WEAK_FOR_GROUPS)]
    fit = fit_binary(design, share, prior_deviation=prior, weight=weight)
    own = predicted_probability(design, fit.coefficients)[row]
    values, vectors = np.linalg.eigh(fit.covariance)
    leverage = design @ (vectors * np.sqrt(np.maximum(values, 0.0)))
    correlation = correlation_beyond(trials.kept, own, trials.burst, (column[row] for column in leverage.T))
    columns = slice(conditions.shape[1], design.shape[1])
    scale = float(trials.difficulty_stops[rows].std()) or 1.0
    return Keeping(fit, conditions, row, with_setting, correlation, columns, scale)


def _rows(trials: Trials) -> tuple[Codes, Codes]:
    """One frame for each row of the fit, and the row of each frame."""
    if trials.kept.size <= _ROWS_AS_THEY_ARE:
        every = np.arange(trials.kept.size)
        return every, every
    key = np.zeros(trials.kept.size, np.int64)
    for values in (
        trials.group,
        trials.trip,
        trials.body,
        trials.support,
        trials.is_stabilised.astype(np.int64),
        np.round(trials.difficulty_stops * 4).astype(np.int64),
        np.round(np.nan_to_num(trials.light_ev, nan=-30.0) * 2).astype(np.int64),
        np.round(np.minimum(trials.stops_lost, 8.0) * 2).astype(np.int64),
    ):
        low = int(values.min())
        key = key * (int(values.max()) - low + 1) + (values - low)
    _, first, row = np.unique(key, return_index=True, return_inverse=True)
    return first, row


def _conditions(trials: Trials, rows: Codes, *, with_setting: bool, with_body: bool) -> tuple[Floats, Floats]:
    """Columns of the conditions, and the deviations of their priors."""
    hard = _scaled(trials.difficulty_stops[rows])
    light = trials.light_ev[rows]
    unstabilised = (~trials.is_stabilised[rows]).astype(np.float64)
    columns = [np.ones(rows.size), hard, hard**2, unstabilised, unstabilised * hard]
    columns += [np.nan_to_num(_scaled(light)), np.isnan(light).astype(np.float64)]
    deviations = [10.0, 5.0] + [_WEAK] * 5
    if with_setting:
        lost = np.minimum(trials.stops_lost[rows], 8.0)
        columns += [lost / 2.0, np.sqrt(lost)]
        deviations += [_WEAK] * 2
    blocks = [np.column_stack(columns), _levels(trials.support[rows])]
    if with_body:
        blocks.append(_levels(trials.body[rows]))
    of_trips = _levels(_largest(trials.trip, rows))
    deviations += [_WEAK] * sum(block.shape[1] for block in blocks[1:]) + [_WEAK_FOR_GROUPS] * of_trips.shape[1]
    return np.hstack([*blocks, of_trips]), np.asarray(deviations)


def _scaled(values: Floats) -> Floats:
    """Centre and bring to a unit spread; NaN stays."""
    known = values[~np.isnan(values)]
    if not known.size or float(known.std()) == 0.0:
        return np.where(np.isnan(values), np.nan, 0.0)
    return np.asarray((values - known.mean()) / known.std())


def _levels(codes: Codes, count: int = 0) -> Floats:
    """One column a level, none where there is but one; the prior keeps them apart from the constant."""
    levels = count or int(codes.max(initial=0)) + 1
    return np.eye(levels)[codes] if levels > 1 else np.zeros((codes.size, 0))


def _largest(trip: Codes, rows: Codes) -> Codes:
    """Return trips numbered by size; the smallest, where there are many, share the last number."""
    size = np.bincount(trip)
    rank = np.empty(size.size, np.int64)
    rank[np.argsort(-size, kind="stable")] = np.arange(size.size)
    return np.minimum(rank, _MOST_TRIPS)[trip[rows]]
