"""Forward-backward over a batch of sequences: how sure each state is, and what is expected to have happened."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from auditor.audit.sequence.chain import Batch, Floats, Layout, Stepper

__all__ = ["Events", "Posterior", "posteriors"]

_TINY = 1e-300
"""Keeps a division from failing where a sequence is padding."""


@dataclass(frozen=True, slots=True)
class Events:
    """
    Expected events of each step, from the posterior.

    Parameters
    ----------
    changed : array of float, shape (sequences, steps)
        Chance that a change lies before the step.
    used : array of float, shape (sequences, steps, offsets)
        Chance that this change used the row that was next at each offset.
    arrived : array of float, shape (sequences, steps, states)
        Chance that a change led to each state; empty (no states) unless asked for.
    """

    changed: Floats
    used: Floats
    arrived: Floats


@dataclass(frozen=True, slots=True)
class Posterior:
    """
    What forward-backward says.

    Parameters
    ----------
    state : array of float, shape (sequences, steps, states)
        Chance of each state given everything.
    carried : array of float, shape (sequences, steps, states)
        The part of it in which the typed value was left standing when the state began.
    log_likelihood : array of float, shape (sequences,)
        Natural logarithm of the likelihood of all that was seen.
    events : Events
        Expected changes and rows used.
    """

    state: Floats
    carried: Floats
    log_likelihood: Floats
    events: Events


def shift_mass(stepper: Stepper, mass: Floats, step: int) -> Floats:
    for chosen, kind in stepper.shifts(step):
        old = mass[chosen]
        new = np.zeros_like(old)
        new[:, :-1] = old[:, 1:]
        new[:, 0] += old[:, 0] * stepper.batch.skip[kind]
        mass[chosen] = new
    return mass


def _shift_value(stepper: Stepper, value: Floats, step: int) -> Floats:
    for chosen, kind in reversed(list(stepper.shifts(step))):
        new = value[chosen]
        old = np.zeros_like(new)
        old[:, 1:] = new[:, :-1]
        old[:, 0] = new[:, 0] * stepper.batch.skip[kind]
        value[chosen] = old
    return value


def starting(stepper: Stepper) -> Floats:
    """Mass at each offset before anything is on, shape (sequences, offsets): rows may go by before the first step."""
    batch = stepper.batch
    mass = np.zeros((len(batch.length), stepper.width))
    mass[:, stepper.reach] = 1.0
    for chosen, kind in stepper.shifts(0):
        old = mass[chosen]
        new = np.zeros_like(old)
        new[:, :-1] = old[:, 1:]
        new[:, 0] += old[:, 0] * batch.skip_start[kind]
        mass[chosen] = new
    return mass


def _first(stepper: Stepper) -> tuple[Floats, Floats, Floats]:
    """Return the mass put on at the first step, the part that used a row by offset, and the carried part."""
    batch = stepper.batch
    mass = starting(stepper)
    arriving = batch.unnoted[:, None, None] * mass[:, :, None] * np.ones(stepper.layout.states)
    with_row = np.zeros_like(arriving)
    if stepper.uses_rows(0):
        kinds = stepper.row_kinds(0)
        waiting = mass.copy()
        for offset in range(1, stepper.width):
            waiting[:, offset] += waiting[:, offset - 1] * batch.skip_start[kinds[:, offset - 1]]
        with_row[:, 1:] = (waiting * batch.use[:, 0])[:, :-1, None] * batch.match[kinds[:, :-1]]
    here = stepper.layout.popularity * batch.emit[batch.emit_at[:, 0]]
    put_on = (arriving + with_row) * (here * batch.change[batch.kind_at[:, 0]])[:, None]
    noted = with_row * (here * batch.change[batch.kind_at[:, 0]])[:, None]
    carried = (arriving + with_row) * (here * batch.carried[batch.kind_at[:, 0]])[:, None]
    return put_on, noted, carried


def _arrivals(stepper: Stepper, mass: Floats, step: int) -> Floats:
    """Mass that a change brings to each offset and state, before popularity and the step's own evidence."""
    batch = stepper.batch
    source = mass * stepper.leave
    arriving = batch.unnoted[:, None, None] * stepper.others(source)
    if stepper.uses_rows(step):
        kinds = stepper.row_kinds(step)
        waiting = stepper.waiting(source, kinds)[:, :-1]
        arriving[:, 1:] += stepper.others(waiting) * batch.use[:, step, :-1, None] * batch.match[kinds[:, :-1]]
    return arriving


def _advance(stepper: Stepper, mass: Floats, carried: Floats, step: int) -> tuple[Floats, Floats]:
    batch = stepper.batch
    odds = batch.odds[:, step, None, None]
    kind = batch.kind_at[:, step]
    arriving = odds * _arrivals(stepper, mass, step) * stepper.layout.popularity
    staying = (1 - odds) * batch.stay[kind][:, None]
    moved = stepper.turned(mass) * staying
    moved_carried = stepper.turned(carried) * staying * batch.kept[kind][:, None, None]
    emit = batch.emit[batch.emit_at[:, step]][:, None]
    new = (moved + arriving * batch.change[kind][:, None]) * emit
    new_carried = (moved_carried + arriving * batch.carried[kind][:, None]) * emit
    for sequence in stepper.linked(step):
        new[sequence], new_carried[sequence] = _linked_forward(stepper, mass, carried, (sequence, step))
    return new, new_carried


def _linked_forward(stepper: Stepper, mass: Floats, carried: Floats, at: tuple[int, int]) -> tuple[Floats, Floats]:
    sequence, step = at
    staying, changing, taking = stepper.written_out(at)
    kept = stepper.batch.kept[stepper.batch.kind_at[sequence, step]]
    new = mass[sequence] @ staying + np.einsum("os,ospt->pt", mass[sequence], changing)
    new_carried = kept * (carried[sequence] @ staying) + np.einsum("os,ospt->pt", mass[sequence], taking)
    return new, new_carried


def _retreat(stepper: Stepper, value: Floats, step: int) -> tuple[Floats, Floats, Floats]:
    """
    Value before a step from the value at it.

    Returns
    -------
    tuple of array, shape (sequences, offsets, states)
        The whole; the part of a change without a row; and what a unit of mass waiting at each offset is worth.
    """
    batch = stepper.batch
    odds = batch.odds[:, step, None, None]
    kind = batch.kind_at[:, step]
    here = value * batch.emit[batch.emit_at[:, step]][:, None]
    staying = stepper.turned(here * batch.stay[kind][:, None]) * (1 - odds)
    coming = here * (odds * stepper.layout.popularity * batch.change[kind][:, None])
    plain = batch.unnoted[:, None, None] * stepper.others(coming)
    worth = np.zeros_like(plain)
    whole = plain
    if stepper.uses_rows(step):
        kinds = stepper.row_kinds(step)
        worth[:, :-1] = stepper.others(coming[:, 1:] * batch.match[kinds[:, :-1]]) * batch.use[:, step, :-1, None]
        ahead = worth.copy()
        for offset in range(stepper.width - 2, -1, -1):
            ahead[:, offset] += ahead[:, offset + 1] * batch.skip[kinds[:, offset]]
        whole = plain + ahead
    before = staying + whole * stepper.leave
    for sequence in stepper.linked(step):
        stay, change, _ = stepper.written_out((sequence, step))
        before[sequence] = value[sequence] @ stay.T + np.einsum("ospt,pt->os", change, value[sequence])
    return before, plain, worth


def _running(batch: Batch, step: int) -> npt.NDArray[np.bool_]:
    return batch.length > step


def _forward(stepper: Stepper) -> tuple[Floats, Floats, Floats, Floats]:
    """Return scaled masses and carried parts of all steps, the scales, and the noted part of the first step."""
    batch = stepper.batch
    count, steps = batch.emit_at.shape
    shape = (steps, count, stepper.width, stepper.layout.states)
    masses, carrieds = np.empty(shape), np.empty(shape)
    scales = np.ones((steps, count))
    mass, noted, carried = _first(stepper)
    for step in range(steps):
        if step:
            mass = shift_mass(stepper, masses[step - 1].copy(), step)
            carried = shift_mass(stepper, carrieds[step - 1].copy(), step)
            mass, carried = _advance(stepper, mass, carried, step)
        scale = np.maximum(mass.sum(axis=(1, 2)), _TINY)
        scales[step] = np.where(_running(batch, step), scale, 1.0)
        np.divide(mass, scale[:, None, None], out=masses[step])
        np.divide(carried, scale[:, None, None], out=carrieds[step])
    return masses, carrieds, scales, noted


def posteriors(layout: Layout, batch: Batch, *, with_arrivals: bool = False) -> Posterior:
    """
    Forward-backward: the chance of every state at every step, given everything before and after it.

    Parameters
    ----------
    layout : Layout
        What is the same at every step.
    batch : Batch
        Sequences side by side.
    with_arrivals : bool
        Also return to which state each expected change led, for learning.

    Returns
    -------
    Posterior
        Chances, carried parts, log-likelihoods and expected events; padding is zero.

    Notes
    -----
    Time and memory are linear in steps and in states.
    """
    stepper = Stepper(layout, batch)
    masses, carrieds, scales, noted = _forward(stepper)
    steps, count = scales.shape
    state = np.zeros((count, steps, layout.states))
    carried = np.zeros_like(state)
    changed, used = np.zeros((count, steps)), np.zeros((count, steps, stepper.width))
    arrived = np.zeros((count, steps, layout.states if with_arrivals else 0))
    final = stepper.leftover()
    value = final.copy()
    ending = np.ones(count)
    for step in range(steps - 1, -1, -1):
        last = batch.length == step + 1
        value[last] = final[last]
        together = masses[step] * value
        total = np.maximum(together.sum(axis=(1, 2)), _TINY)
        ending[last] = total[last]
        value /= total[:, None, None]
        live = _running(batch, step)[:, None]
        state[:, step] = (together.sum(axis=1) / total[:, None]) * live
        share = carrieds[step] * value
        carried[:, step] = share.sum(axis=1) * live
        if step:
            mass = shift_mass(stepper, masses[step - 1].copy(), step)
            before, plain, worth = _retreat(stepper, value, step)
            changed[:, step], used[:, step] = _events(stepper, mass, (before, plain, worth), step)
            if with_arrivals:
                arrived[:, step] = _arrived(stepper, mass, value, step)
            for sequence in stepper.linked(step):
                at = (sequence, step)
                changed[at], used[at] = _linked_events(stepper, mass[sequence], value[sequence], at)
            value = _shift_value(stepper, before, step)
        else:
            changed[:, 0] = 1.0
            if with_arrivals:
                arrived[:, 0] = state[:, 0]
            used[:, 0, :-1] = ((noted * value).sum(axis=2) / scales[0][:, None])[:, 1:]
    log_likelihood = np.log(scales).sum(axis=0) + np.log(np.maximum(ending, _TINY))
    live = batch.length[:, None] > np.arange(steps)
    return Posterior(
        state, carried, log_likelihood, Events(changed * live, used * live[:, :, None], arrived * live[:, :, None])
    )


def _events(stepper: Stepper, mass: Floats, values: tuple[Floats, Floats, Floats], step: int) -> tuple[Floats, Floats]:
    """Chance of a change before a step, and of the row it used, from the mass before and the values after."""
    before, plain, worth = values
    total = np.maximum((mass * before).sum(axis=(1, 2)), _TINY)
    source = mass * stepper.leave
    changed = (source * plain).sum(axis=(1, 2))
    used = np.zeros(mass.shape[:2])
    if stepper.uses_rows(step):
        waiting = stepper.waiting(source, stepper.row_kinds(step))
        used = (waiting * worth).sum(axis=2)
        changed = changed + used.sum(axis=1)
    return np.minimum(changed / total, 1.0), used / total[:, None]


def _linked_events(stepper: Stepper, mass: Floats, value: Floats, at: tuple[int, int]) -> tuple[float, Floats]:
    """Chance of a change, and of the row it used, at a step where every pair of states has its own weight."""
    staying, changing, _ = stepper.written_out(at)
    # A change without a row leads to its own offset, one with a row to the offset after that row's.
    moved = np.einsum("os,ospt,pt->op", mass, changing, value)
    total = max(float((mass @ staying * value).sum() + moved.sum()), _TINY)
    used = np.zeros(stepper.width)
    used[:-1] = np.triu(moved, 1).sum(axis=0)[1:]
    return float(moved.sum()) / total, used / total


def _arrived(stepper: Stepper, mass: Floats, value: Floats, step: int) -> Floats:
    """Chance that a change led to each state at a step (links between pairs of frames left aside)."""
    batch = stepper.batch
    kind = batch.kind_at[:, step]
    here = batch.emit[batch.emit_at[:, step]]
    coming = _arrivals(stepper, mass, step) * stepper.layout.popularity * batch.odds[:, step, None, None]
    moved = stepper.turned(mass) * (1 - batch.odds[:, step, None, None])
    came = (coming * value).sum(axis=1) * batch.change[kind] * here
    stayed = (moved * value).sum(axis=1) * batch.stay[kind] * here
    return np.asarray(came / np.maximum((came + stayed).sum(axis=1), _TINY)[:, None])
