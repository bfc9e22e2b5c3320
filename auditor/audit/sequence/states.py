"""What may be mounted on a body: pairings, with the positions of a zoom without contacts told apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from auditor.audit.right_setting import right_setting_of
from auditor.audit.sequence.chain import Floats, Ints
from auditor.model.kit import Body
from auditor.model.pairings import Pairing

__all__ = ["State", "States", "states_of"]

_STEP = 1.2
"""Ratio of neighbouring zoom positions: within it a setting for the one still serves the other."""

_MOST_POSITIONS = 9

_ENDS = 0.7
"""Share of a zoom's use that falls to its two ends. Judgement."""


@dataclass(frozen=True)
class State:
    """
    A pairing, at one position where it is a zoom without contacts. ``pairing`` is None for a lens not in the kit.

    Lengths in mm: ``position_mm`` as engraved; ``right_low_mm`` and ``right_high_mm`` over all focus distances.
    """

    pairing: Pairing | None
    position_mm: float = float("nan")
    share: float = 1.0
    right_low_mm: float = float("nan")
    right_high_mm: float = float("nan")

    @property
    def contacts(self) -> bool:
        """Whether the lens tells the body about itself."""
        return self.pairing is not None and self.pairing.contacts


@dataclass(frozen=True)
class States:
    """All states of one body; the last is a lens that is not in the kit."""

    body: Body
    entries: tuple[State, ...]

    @cached_property
    def pairings(self) -> tuple[Pairing | None, ...]:
        """Pairings in order of their group number."""
        return tuple(dict.fromkeys(state.pairing for state in self.entries))

    @cached_property
    def group(self) -> Ints:
        """Number of each state's pairing, shape (states,)."""
        number = {pairing: place for place, pairing in enumerate(self.pairings)}
        return np.array([number[state.pairing] for state in self.entries], dtype=np.int64)

    @cached_property
    def share(self) -> Floats:
        """Share of each state in its pairing's use, shape (states,)."""
        return np.array([state.share for state in self.entries])

    @cached_property
    def contacts(self) -> Floats:
        """1 for a state whose lens has contacts, shape (states,)."""
        return np.array([float(state.contacts) for state in self.entries])

    @cached_property
    def factors(self) -> tuple[float, ...]:
        """Factors of the adapters through which a lens without contacts sits on this body; 1 where there is none."""
        found = {pairing.factor for pairing in self.pairings if pairing is not None and not pairing.contacts}
        return tuple(sorted(found)) or (1.0,)

    def popularity(self, of_pairings: Floats) -> Floats:
        """
        Chance of each state from the chance of each pairing.

        Parameters
        ----------
        of_pairings : array, shape (pairings,)
        """
        return np.asarray(of_pairings[self.group] * self.share)

    def totals(self, of_states: Floats) -> Floats:
        """Add up over each pairing's positions, along the last axis."""
        return np.asarray(of_states @ (self.group[:, None] == np.arange(len(self.pairings))).astype(float))


def states_of(body: Body, pairings: Sequence[Pairing]) -> States:
    """
    Return the states of a body.

    Parameters
    ----------
    body : Body
    pairings : sequence of Pairing
        Of any body; those of this one are used.

    Examples
    --------
    >>> from auditor.model.kit import Lens
    >>> body = Body(id="one", name="S", exif_model="S", sensor_mm=(17.4, 13.0), mount="MD", stabiliser_stops=5.0)
    >>> zoom = Lens(id="fell-35-70", name="Fell", focal_mm=(35.0, 70.0), mount="MD")
    >>> [round(state.position_mm, 1) for state in states_of(body, [Pairing(body, zoom)]).entries]
    [35.0, 41.6, 49.5, 58.9, 70.0, nan]
    """
    entries = [state for pairing in pairings if pairing.body.id == body.id for state in _positions(pairing)]
    return States(body, (*entries, State(None)))


def _positions(pairing: Pairing) -> list[State]:
    short, long = pairing.lens.true_focal_mm
    if pairing.contacts or not pairing.lens.is_zoom:
        return [_state(pairing, short, 1.0)]
    count = min(_MOST_POSITIONS, max(2, int(np.ceil(np.log(long / short) / np.log(_STEP))) + 1))
    places = np.geomspace(short, long, count)
    shares = np.full(count, (1 - _ENDS) / max(count - 2, 1))
    shares[[0, -1]] = _ENDS / 2
    shares /= shares.sum()
    return [_state(pairing, float(mm), float(share)) for mm, share in zip(places, shares, strict=True)]


def _state(pairing: Pairing, position_mm: float, share: float) -> State:
    right = right_setting_of(pairing, np.array([np.nan]), np.array([position_mm]))
    return State(pairing, position_mm, share, float(right.low[0]), float(right.high[0]))
