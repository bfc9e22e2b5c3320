"""What a card does not know, as draws with a fixed seed: its figures are medians with nine in ten between the ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.constants import HAND_EXPONENT, HAND_SHAKE_MRAD
from auditor.model.cards import Figure
from auditor.model.pairings import Pairing
from auditor.model.settings import Hand
from auditor.optics.arrays import ArrayLike, FloatArray, floats
from auditor.optics.geometry import magnification_from_distance

__all__ = ["DRAWS", "Unknowns", "draw_unknowns", "figure", "is_judged_hand", "setting_spread"]

DRAWS = 4000
_SEED = 20261124
# Relative standard deviations. Engraved focal length: ±5 % is commonly said (from memory), taken as two of them. A
# factor and a measurement: judgement.
_ENGRAVED, _MEASURED, _FACTOR = 0.025, 0.01, 0.01
# Principal planes apart by this share of the focal length either way: rarely published, a judgement.
_HIATUS = 0.2


@dataclass(frozen=True)
class Unknowns:
    """
    Draws of what is not known, shape (draws,).

    Attributes
    ----------
    length, factor : array
        Relative error of the lens's focal length and of the adapters' factor. [-]
    shake_mrad, exponent : array
        The hand. [mrad, -]
    stops : array
        The stabiliser. [stop]
    """

    length: FloatArray
    factor: FloatArray
    shake_mrad: FloatArray
    exponent: FloatArray
    stops: FloatArray


def is_judged_hand(hand: Hand) -> bool:
    """
    Whether the hand is still the one that settings.toml begins with, which is a judgement.

    Examples
    --------
    >>> is_judged_hand(Hand()), is_judged_hand(Hand(shake_mrad=0.21))
    (True, False)
    """
    return hand.shake_mrad == HAND_SHAKE_MRAD and hand.exponent == HAND_EXPONENT


def draw_unknowns(pairing: Pairing, hand: Hand) -> Unknowns:
    """
    Draw what is not known of a pairing, a hand and a body.

    Parameters
    ----------
    pairing : Pairing
        Body without known stops gives NaN for them.
    hand : Hand
        As in settings.toml; the judged one is ×/÷ 2, one's own ±20 %.

    Returns
    -------
    Unknowns
        The same each time.

    Notes
    -----
    Until a hand is fitted, the stops are taken as those in the kit less one, ±1: laboratory against life (judgement).
    A fitted hand comes with fitted stops, ±0.5.
    """
    rng = np.random.default_rng(_SEED)
    judged = is_judged_hand(hand)
    lens = pairing.lens
    measured = lens.measured_focal_mm is not None or bool(lens.breathing)
    plain = all(adapter.factor == 1.0 for adapter in pairing.adapters)
    rated = pairing.body.stabiliser_stops
    stops = (
        np.full(DRAWS, np.nan) if rated is None else rated + rng.normal(*((-1.0, 1.0) if judged else (0.0, 0.5)), DRAWS)
    )
    exponent = hand.exponent + rng.normal(0.0, 0.15 if judged else 0.05, DRAWS)
    return Unknowns(
        length=floats(rng.normal(0.0, _MEASURED if measured else _ENGRAVED, DRAWS)),
        factor=floats(np.zeros(DRAWS) if plain else rng.normal(0.0, _FACTOR, DRAWS)),
        shake_mrad=floats(hand.shake_mrad * np.exp(rng.normal(0.0, np.log(2.0) if judged else 0.2, DRAWS))),
        exponent=floats(np.clip(exponent, 0.51, 1.0)),
        stops=floats(np.maximum(stops, 0.0)),
    )


def setting_spread(pairing: Pairing, distance_m: float, unknowns: Unknowns) -> FloatArray:
    """
    Relative errors of the right setting at a distance.

    Parameters
    ----------
    pairing : Pairing
    distance_m : float
        On the ring; infinity allowed. [m]
    unknowns : Unknowns

    Returns
    -------
    array, shape (draws,)
        Right setting over the one that is computed. [-]

    Notes
    -----
    Focal length, factor, and close up the unknown distance between the principal planes. An internal-focus lens that
    was not measured lies anywhere from f/(1+m) to f(1+m).
    """
    lens, rng = pairing.lens, np.random.default_rng(_SEED + 1)
    spread = (1.0 + unknowns.length) * (1.0 + unknowns.factor)
    if lens.breathing or np.isinf(distance_m):
        return floats(spread)
    focal = lens.true_focal_mm[0]
    plain = np.nan_to_num(float(magnification_from_distance(distance_m, focal)))
    if lens.focusing == "internal":
        return floats(spread * (1.0 + plain) ** rng.uniform(-1.0, 1.0, DRAWS))
    planes = focal * rng.uniform(-_HIATUS, _HIATUS, DRAWS)
    near = floats(magnification_from_distance(distance_m, focal, planes))
    return floats(spread * (1.0 + np.where(np.isnan(near), plain, near)) / (1.0 + plain))


def figure(draws: ArrayLike) -> Figure:
    """
    Return the median of draws with the 5th and 95th percentile.

    Examples
    --------
    >>> figure([1.0, 2.0, 3.0]).value
    2.0
    """
    values = floats(draws)
    if np.isnan(values).any():
        return Figure(float("nan"), float("nan"), float("nan"))
    low, middle, high = np.quantile(values, [0.05, 0.5, 0.95])
    return Figure(float(middle), float(low), float(high))
