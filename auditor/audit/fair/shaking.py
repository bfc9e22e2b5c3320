"""The shake model held against what was kept: this hand, this stabiliser, and how much else decides."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.audit.fair.trials import Codes, Floats
from auditor.optics.arrays import floats
from auditor.shake.hand import sharp_probability

__all__ = ["Shaking", "fit_shaking"]

_HAND_STOPS = np.linspace(-2.0, 2.0, 17)
_STABILISER_STOPS = np.linspace(-3.0, 2.0, 11)
_KEPT_IF_SHARP = np.linspace(0.05, 1.0, 20)
_HAND_DEVIATION, _STABILISER_DEVIATION = 0.8, 1.0
_FINENESS = 8.0


@dataclass(frozen=True)
class Shaking:
    """
    Hands and stabilisers on a grid, with how well each explains what was kept.

    Attributes
    ----------
    weight : array, shape (hands, stabilisers, shares)
        Posterior probability, sum 1.
    sharp : array, shape (hands, stabilisers, cells)
        Probability that shake stays within what is tolerated, as set.
    sharp_if_right : array, shape (hands, stabilisers, cells)
        The same at the right setting.
    cell : int array, shape (frames,)
        Cell of each frame; -1 where its shake is not known.
    """

    weight: Floats
    sharp: Floats
    sharp_if_right: Floats
    cell: Codes

    @property
    def kept_if_sharp(self) -> float:
        """Posterior mean share of the sharp frames that was kept."""
        return float((self.weight.sum(axis=(0, 1)) * _KEPT_IF_SHARP).sum())

    @property
    def hand_stops(self) -> float:
        """Posterior mean of how much shakier the hand is than settings.toml says, in stops of blur."""
        return float((self.weight.sum(axis=(1, 2)) * _HAND_STOPS).sum())

    @property
    def stabiliser_stops(self) -> float:
        """Posterior mean of how much more the stabiliser gives than kit.toml says, in stops of time."""
        return float((self.weight.sum(axis=(0, 2)) * _STABILISER_STOPS).sum())

    def saved(self, rng: np.random.Generator, draws: int) -> Iterator[Floats]:
        """Yield, draw by draw, the chance that the right setting would have saved each frame that failed."""
        for flat in rng.choice(self.weight.size, draws, p=self.weight.ravel()):
            hand, stabiliser, share = np.unravel_index(flat, self.weight.shape)
            kept = _KEPT_IF_SHARP[share]
            as_set, at_right = kept * self.sharp[hand, stabiliser], kept * self.sharp_if_right[hand, stabiliser]
            chance = np.clip((at_right - as_set) / np.maximum(1.0 - as_set, 1e-9), 0.0, 1.0)
            yield np.append(chance, 0.0)[self.cell]


def fit_shaking(rows: pd.DataFrame, kept: Floats, longer: float, *, hand: tuple[float, float]) -> Shaking:
    """
    Weigh hands and stabilisers by what was kept.

    Parameters
    ----------
    rows : DataFrame
        Judged frames: ``shake_um``, ``residual``, ``residual_floor``, ``tolerated_um``, ``is_stabilised``.
    kept : array, shape (frames,)
        1 kept, 0 not.
    longer : float
        Design effect of the bursts: the frames are worth so many times fewer.
    hand : (exponent, spread_stops)
        Of the hand's shake.

    Returns
    -------
    Shaking

    Notes
    -----
    P(kept) = share × P(shake within tolerance). Before the frames are seen the hand is that of settings.toml to 0.8
    stop of blur, the stabiliser that of kit.toml to a stop, every share alike (judgement). Frames alike to an eighth of
    a stop share a cell.
    """
    exponent, spread_stops = hand
    shake, left = rows["shake_um"].to_numpy(np.float64), rows["residual"].to_numpy(np.float64)
    floor, tolerated = rows["residual_floor"].to_numpy(np.float64), rows["tolerated_um"].to_numpy(np.float64)
    stabilised = rows["is_stabilised"].to_numpy(bool)
    missed = np.sqrt(np.maximum(left**2 - floor**2, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        room = np.round(np.log2(tolerated / shake) * _FINENESS)
        error = np.where(missed > 0, np.round(np.log2(missed) * _FINENESS), -99.0)
    known = np.isfinite(room) & np.isfinite(error) & np.isfinite(floor)
    key = np.column_stack([room, error, np.round(np.log2(floor) * _FINENESS), stabilised])
    cells, number = np.unique(key[known], axis=0, return_inverse=True)
    cell = np.full(len(rows), -1, np.int64)
    cell[known] = number.ravel()
    judged = np.bincount(number.ravel(), minlength=len(cells)) / longer
    keepers = np.bincount(number.ravel(), kept[known], len(cells)) / longer
    shape = (len(_HAND_STOPS), len(_STABILISER_STOPS))
    sharp, right = np.empty((*shape, len(cells))), np.empty((*shape, len(cells)))
    for (one, hand_stops), (two, more) in itertools.product(enumerate(_HAND_STOPS), enumerate(_STABILISER_STOPS)):
        as_set, at_right = _residuals(cells, float(more), exponent)
        scale = 2.0 ** (hand_stops - cells[:, 0] / _FINENESS)
        sharp[one, two] = floats(sharp_probability(1.0, scale * as_set, spread_stops))
        right[one, two] = floats(sharp_probability(1.0, scale * at_right, spread_stops))
    return Shaking(_posterior(sharp, keepers, judged), sharp, right, cell)


def _residuals(cells: Floats, more_stops: float, exponent: float) -> tuple[Floats, Floats]:
    """Residual as set and at the right setting, with a stabiliser that gives so many stops more."""
    stabilised = cells[:, 3] > 0
    floor = np.minimum(2.0 ** (cells[:, 2] / _FINENESS - exponent * more_stops), 1.0)
    missed = np.where(cells[:, 1] <= -99.0, 0.0, 2.0 ** (cells[:, 1] / _FINENESS))
    return np.where(stabilised, np.hypot(missed, floor), 1.0), np.where(stabilised, floor, 1.0)


def _posterior(sharp: Floats, keepers: Floats, judged: Floats) -> Floats:
    hands = -0.5 * (_HAND_STOPS / _HAND_DEVIATION) ** 2
    stabilisers = -0.5 * (_STABILISER_STOPS / _STABILISER_DEVIATION) ** 2
    score = np.empty((*sharp.shape[:2], _KEPT_IF_SHARP.size))
    for place, share in enumerate(_KEPT_IF_SHARP):
        chance = np.clip(share * sharp, 1e-6, 1.0 - 1e-6)
        score[:, :, place] = np.log(chance) @ keepers + np.log1p(-chance) @ (judged - keepers)
    score += hands[:, np.newaxis, np.newaxis] + stabilisers[np.newaxis, :, np.newaxis]
    weight = np.exp(score - score.max())
    return np.asarray(weight / weight.sum())
