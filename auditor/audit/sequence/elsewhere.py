"""A lens cannot be on two bodies at once: what each body's pairing says of the others'."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from auditor.audit.sequence.chain import Floats, Ints
from auditor.audit.sequence.states import States
from auditor.audit.sequence.timeline import Timeline

__all__ = ["Mounted", "free_elsewhere", "mounted", "on_another_too"]

_CLOCKS_APART_S = 120.0
"""Clocks of two bodies may differ so much: a lens counts as in use only where it is so before and after. Judgement."""

_LONGEST_PAUSE_S = 1800.0
"""In a longer pause of one body its lens may have been on another and come back. Judgement."""

_AT_ONCE = 50_000

_YET_BOTH = 0.02
"""Chance left where a lens is surely on another body: a clock may be further off, or a second copy not in the kit."""


@dataclass(frozen=True)
class Mounted:
    """
    What was on one body when.

    Attributes
    ----------
    begin_s, end_s : array, shape (steps,)
        Steps with a time, in order of time. [s since 1970]
    chance : array, shape (steps, lenses)
        Chance that each lens was on, lenses in the order of ``names``.
    names : tuple of str
    """

    begin_s: Floats
    end_s: Floats
    chance: Floats
    names: tuple[str, ...]

    def at(self, moment_s: Floats) -> Floats:
        """
        Return the chance that each lens was on at a moment and two minutes before and after, shape (moments, lenses).

        Between two steps a lens counts as on where it was so on both sides of a pause that is not too long.
        """
        if not len(self.begin_s):
            return np.zeros((len(moment_s), len(self.names)))
        least = np.ones((len(moment_s), len(self.names)))
        for shift_s in (-_CLOCKS_APART_S, 0.0, _CLOCKS_APART_S):
            least = np.minimum(least, self._at(moment_s + shift_s))
        return least

    def _at(self, moment_s: Floats) -> Floats:
        before = np.searchsorted(self.begin_s, moment_s, side="right") - 1
        after = np.minimum(before + 1, len(self.begin_s) - 1)
        here = np.maximum(before, 0)
        inside = (before >= 0) & (moment_s <= self.end_s[here])
        between = (before >= 0) & (after > before) & (self.begin_s[after] - self.end_s[here] <= _LONGEST_PAUSE_S)
        both = np.where(inside[:, None], self.chance[here], np.minimum(self.chance[here], self.chance[after]))
        return np.asarray(both * (inside | between)[:, None])


def mounted(timeline: Timeline, states: States, chance: Floats) -> Mounted:
    """
    Sum up what was on a body, lens by lens.

    Parameters
    ----------
    timeline : Timeline
    states : States
    chance : array, shape (steps, pairings)
        Chance of each pairing at each step.
    """
    lenses = [pairing.lens.id if pairing else "" for pairing in states.pairings]
    names = tuple(name for name in dict.fromkeys(lenses) if name)
    sums = np.array([[float(lens == name) for name in names] for lens in lenses]).reshape(len(lenses), len(names))
    timed = np.flatnonzero(~np.isnan(timeline.begin_s))
    order = timed[np.argsort(timeline.begin_s[timed], kind="stable")]
    return Mounted(timeline.begin_s[order], timeline.end_s[order], chance[order] @ sums, names)


def free_elsewhere(timeline: Timeline, states: States, others: Sequence[Mounted]) -> tuple[Floats, Ints] | None:
    """
    Return the chance that each state's lens is on no other body, for the steps where that is in question.

    Parameters
    ----------
    timeline, states
        Of the body whose steps are asked about.
    others : sequence of Mounted
        What was on the other bodies, as each of them says by itself.

    Returns
    -------
    tuple of array, shapes (kinds, states) and (steps,), or None
        Distinct rows and which of them each step uses; the first row is all ones. None where no lens is in question.
    """
    number = {name: place for place, name in enumerate(_lens_names(states))}
    free = np.ones((timeline.steps, len(number)), dtype=np.float32)
    timed = np.flatnonzero(~np.isnan(timeline.begin_s))
    for other in others:
        shared = [(place, number[name]) for place, name in enumerate(other.names) if name in number]
        if not shared:
            continue
        theirs, own = (np.array(part) for part in zip(*shared, strict=True))
        for some in np.array_split(timed, -(-len(timed) // _AT_ONCE)):
            free[some[:, None], own[None, :]] *= 1 - other.at(timeline.begin_s[some])[:, theirs]
    free = np.maximum(np.round(free, 2), np.float32(_YET_BOTH))
    asked = np.flatnonzero((free < 1).any(axis=1))
    if not len(asked):
        return None
    kinds, kind = np.unique(free[asked], axis=0, return_inverse=True)
    kind_at = np.zeros(timeline.steps, dtype=np.int64)
    kind_at[asked] = kind.reshape(-1) + 1
    lens = np.array([number[state.pairing.lens.id] if state.pairing else -1 for state in states.entries])
    table = np.ones((len(kinds) + 1, len(states.entries)))
    table[1:] = np.where(lens >= 0, kinds[:, lens], 1.0)
    # Contacts name the lens: what tells itself is where it says.
    table[:, states.contacts > 0] = 1.0
    return table, kind_at


def _lens_names(states: States) -> list[str]:
    return list(dict.fromkeys(state.pairing.lens.id for state in states.entries if state.pairing))


def on_another_too(
    timelines: Mapping[str, Timeline], on: Mapping[str, Mounted], answered: Mapping[str, npt.NDArray[np.object_]]
) -> dict[str, npt.NDArray[np.bool_]]:
    """
    Tell at which steps the answered lens is, more likely than not, on another body as well.

    Parameters
    ----------
    timelines : mapping of body to Timeline
    on : mapping of body to Mounted
        After everything was weighed.
    answered : mapping of body to array of str or None, shape (steps,)
        The answered lens of each step.
    """
    doubled = {}
    for body, timeline in timelines.items():
        both = np.zeros(timeline.steps, dtype=bool)
        timed = np.flatnonzero(~np.isnan(timeline.begin_s))
        for other, theirs in on.items():
            if other == body:
                continue
            chance = np.column_stack([theirs.at(timeline.begin_s[timed]), np.zeros(len(timed))])
            number = {name: place for place, name in enumerate(theirs.names)}
            own = np.array([number.get(name, len(number)) for name in answered[body][timed]], dtype=np.int64)
            both[timed] |= chance[np.arange(len(timed)), own] > 0.5
        doubled[body] = both
    return doubled
