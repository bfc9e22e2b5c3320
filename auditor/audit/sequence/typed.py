"""How likely each typed value is: with each lens on, for each way of coming about."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.audit.causes import is_digit_slip
from auditor.audit.sequence.chain import Floats
from auditor.audit.sequence.states import State, States
from auditor.model.pairings import Pairing
from auditor.model.settings import Habits
from auditor.optics.sensors import crop_factor

__all__ = ["TYPED_CAUSES", "Token", "TypedValues", "typed_values"]

TYPED_CAUSES = (
    "right",
    "adapter-factor-left-out",
    "equivalent-entered",
    "long-end-of-zoom",
    "digit-slip",
    "unexplained",
)
"""Ways in which a value can be typed; a value can also be carried over without being typed."""

_EXACT, _NEAR = 0.8, 0.2
"""Of the right values typed, and of those an equivalent was made of: share that is what stands on the lens, and share
anywhere in the range of distances."""

_WRONG_NAME = 0.02
"""Chance that a name picked from the body's own list belongs to another lens."""

_SOLD_MM = (
    12, 14, 15, 16, 18, 20, 21, 24, 25, 28, 30, 32, 35, 40, 42, 45, 50, 55, 58, 60, 70, 75, 80, 85, 90, 100, 105, 110,
    120, 127, 135, 150, 180, 200, 210, 240, 250, 270, 300, 350, 400, 500, 600, 800, 1000,
)  # fmt: skip
"""Focal lengths engraved on lenses: what is typed for one that the kit does not name. Common practice."""

_AS_SOLD = 0.7
"""Share of the values typed for a lens that the kit does not name that are one of these, times an adapter's factor.
Judgement."""

_LOWEST_MM, _HIGHEST_MM = 4.0, 2000.0
"""Values that a body takes; a value that nothing explains is anywhere between, by ratio."""


@dataclass(frozen=True)
class Token:
    """What Exif shows of the typed value. ``setting_mm`` is NaN where it is not known, ``lens`` the lens it names."""

    setting_mm: float
    lens: str | None = None


@dataclass(frozen=True)
class TypedValues:
    """
    Tables over the distinct tokens of one body.

    Attributes
    ----------
    chances : array, shape (causes, tokens, states)
        Chance of the token when it was typed for the state, for each way of coming about.
    shares : array, shape (causes, states)
        Share of each way.
    fits : array of bool, shape (tokens, states)
        The value is right for the state, within the tolerance; also where it does not matter or is not known.
    """

    chances: Floats
    shares: Floats
    fits: np.ndarray

    @property
    def by_cause(self) -> Floats:
        """Chance of the token and the way together, shape (causes, tokens, states)."""
        return np.asarray(self.chances * self.shares[:, None, :])

    @property
    def chance(self) -> Floats:
        """Chance of each token when typed for each state, shape (tokens, states)."""
        return np.asarray(np.einsum("cts,cs->ts", self.chances, self.shares))

    def with_habits(self, states: States, habits: Habits) -> TypedValues:
        """Return the same with other shares."""
        return TypedValues(self.chances, shares_of(states, habits), self.fits)


def typed_values(tokens: Sequence[Token], states: States, habits: Habits, tolerance: float) -> TypedValues:
    """
    Return the tables for the tokens of one body.

    Parameters
    ----------
    tokens : sequence of Token
    states : States
    habits : Habits
        Shares of the ways in which a value is typed wrong.
    tolerance : float
        Share by which a setting may differ and still be right.
    """
    chances = np.zeros((len(TYPED_CAUSES), len(tokens), len(states.entries)))
    fits = np.ones((len(tokens), len(states.entries)), dtype=bool)
    for column, state in enumerate(states.entries):
        for row, token in enumerate(tokens):
            chances[:, row, column] = _chances(token, state, states) * _naming(token, state)
            fits[row, column] = _is_right(token, state, tolerance)
    return TypedValues(chances, shares_of(states, habits), fits)


def shares_of(states: States, habits: Habits) -> Floats:
    """Return the share of each way of typing a value, shape (causes, states)."""
    return np.stack([_shares(state, habits) for state in states.entries], axis=1)


def _shares(state: State, habits: Habits) -> Floats:
    """Share of each way for a state; a way that cannot happen there has none."""
    pairing = state.pairing
    if pairing is None or state.contacts:
        return np.array([1.0, 0, 0, 0, 0, 0])
    crop = _crop(pairing)
    is_short = pairing.lens.is_zoom and state.position_mm < pairing.lens.true_focal_mm[1] * 0.98
    wrong = np.array(
        [
            habits.factor_left_out * (pairing.factor != 1),
            habits.equivalent_entered * (abs(crop - 1) > 0.03),
            habits.long_end_of_zoom * is_short,
            habits.digit_slip,
            habits.odd_value,
        ]
    )
    return np.append(max(1 - wrong.sum(), 0.05), wrong)


def _crop(pairing: Pairing) -> float:
    """Crop of a body; 1 where its sensor is not known, so that no equivalent is looked for."""
    if pairing.body.sensor_mm is None:
        return 1.0
    width_mm, height_mm = pairing.body.sensor_mm
    return float(crop_factor(width_mm, height_mm))


def _chances(token: Token, state: State, states: States) -> Floats:
    """Chance of a token for each way of typing it."""
    if np.isnan(token.setting_mm) or state.contacts:
        return np.ones(len(TYPED_CAUSES))
    odd = _anything(token.setting_mm)
    pairing = state.pairing
    menu = states.body.setting_values_mm
    if pairing is None:
        return np.full(len(TYPED_CAUSES), _for_a_stranger(token.setting_mm, states.factors, menu))
    shown = _marks(pairing, state.position_mm)
    through = [mm * pairing.factor for mm in shown]
    crop = _crop(pairing)
    of = _share_near(token.setting_mm, menu)
    return np.array(
        [
            _EXACT * of(through) + _NEAR * _within(token.setting_mm, state),
            of(_left_out(pairing, shown)),
            _EXACT * _equivalent(of, [*through, *shown], crop) + _NEAR * _within(token.setting_mm / crop, state) / crop,
            of([pairing.lens.focal_mm[1] * pairing.factor, pairing.lens.focal_mm[1]]),
            0.12 * any(is_digit_slip(token.setting_mm, mm) for mm in through),
            odd,
        ]
    )


def _for_a_stranger(setting_mm: float, factors: Sequence[float], menu: Sequence[float]) -> float:
    """Chance of a value typed for a lens that the kit does not name: what such lenses are sold with, or anything."""
    sold = _share_near(setting_mm, menu)([mm * factor for mm in _SOLD_MM for factor in factors])
    return _AS_SOLD * sold + (1 - _AS_SOLD) * _anything(setting_mm)


def _marks(pairing: Pairing, position_mm: float) -> list[float]:
    """Focal lengths that somebody would read off the lens or his notes. [mm]."""
    lens = pairing.lens
    if lens.is_zoom:
        return [position_mm]
    return list(dict.fromkeys([lens.focal_mm[0], lens.true_focal_mm[0]]))


def _left_out(pairing: Pairing, marks_mm: Sequence[float]) -> list[float]:
    """Return what is typed when the factor of one adapter, or of all, is left out. [mm]."""
    factor = pairing.factor
    some = {factor / adapter.factor for adapter in pairing.adapters if adapter.factor != 1} | {1.0}
    return [mm * left for mm in marks_mm for left in some if abs(left - factor) > 1e-9]


def _share_near(setting_mm: float, menu: Sequence[float]) -> Callable[[Sequence[float]], float]:
    """Return a function: chance of the setting when one of some values was meant, rounded as the body allows."""

    def share(values_mm: Sequence[float]) -> float:
        if not values_mm:
            return 0.0
        return sum(_rounded(setting_mm, mm, menu) for mm in values_mm) / len(values_mm)

    return share


def _rounded(setting_mm: float, meant_mm: float, menu: Sequence[float]) -> float:
    """Chance of a setting when a value was meant: nearest whole number or menu value, or the next on the other side."""
    if menu:
        nearest = min(menu, key=lambda value: abs(np.log(value / meant_mm)))
        return 0.95 if abs(setting_mm - nearest) < 0.01 else 0.0
    away = abs(setting_mm - meant_mm)
    if away < 0.05:
        return 0.95
    return 0.9 if away <= 0.51 else 0.08 if away < 1.0 else 0.0


def _within(setting_mm: float, state: State) -> float:
    """Chance of a whole number of mm within the range of right values over all distances, a little wider."""
    if state.pairing is not None and state.pairing.lens.is_zoom:
        low, high = state.position_mm * state.pairing.factor / 1.1, state.position_mm * state.pairing.factor * 1.1
    else:
        low, high = state.right_low_mm / 1.03, state.right_high_mm * 1.03
    return 1 / max(high - low, 1.0) if low <= setting_mm <= high else 0.0


def _equivalent(of: Callable[[Sequence[float]], float], values_mm: Sequence[float], crop: float) -> float:
    """Chance of the equivalent on 24×36 mm, reckoned with the exact crop or the rounded one that people remember."""
    rounded = round(crop * 2) / 2
    return max(of([mm * factor]) for mm in values_mm for factor in (crop, rounded, round(crop, 1))) / len(
        set(values_mm)
    )


def _anything(setting_mm: float) -> float:
    return 1 / (max(setting_mm, 1.0) * math.log(_HIGHEST_MM / _LOWEST_MM))


def _naming(token: Token, state: State) -> float:
    """Chance of the name in the body's list, where there is one."""
    if token.lens is None or state.pairing is None:
        return 1.0
    return 1 - _WRONG_NAME if state.pairing.lens.id == token.lens else _WRONG_NAME


def _is_right(token: Token, state: State, tolerance: float) -> bool:
    if np.isnan(token.setting_mm) or state.pairing is None or state.contacts:
        return True
    low, high = state.right_low_mm * (1 - tolerance), state.right_high_mm * (1 + tolerance)
    return low / (1 + 1e-9) <= token.setting_mm <= high * (1 + 1e-9)
