"""Forward-backward over a batch of sequences: how sure each state is, and what is expected to have happened."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.audit.sequence.chain import Batch, Floats, Layout, Stepper
from auditor.audit.sequence.forward import TINY, arrivals, forward, running, shift_mass

__all__ = ["Events", "Posterior", "posteriors"]


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


def _shift_value(stepper: Stepper, value: Floats, step: int) -> Floats:
    for chosen, kind in reversed(list(stepper.shifts(step))):
        new = value[chosen]
        old = np.zeros_like(new)
        old[:, 1:] = new[:, :-1]
        old[:, 0] = new[:, 0] * stepper.batch.skip[kind]
        value[chosen] = old
    return value


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
    here = value * batch.emit[batch.emit_at[:, step]][:, None]
    staying = stepper.turned(here * stepper.stay(step)[:, None]) * (1 - odds)
    coming = here * (odds * stepper.layout.popularity * stepper.change(step)[:, None])
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
    masses, carrieds, scales, noted = forward(stepper)
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
        total = np.maximum(together.sum(axis=(1, 2)), TINY)
        ending[last] = total[last]
        value /= total[:, None, None]
        live = running(batch, step)[:, None]
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
    log_likelihood = np.log(scales).sum(axis=0) + np.log(np.maximum(ending, TINY))
    live = batch.length[:, None] > np.arange(steps)
    return Posterior(
        state, carried, log_likelihood, Events(changed * live, used * live[:, :, None], arrived * live[:, :, None])
    )


def _events(stepper: Stepper, mass: Floats, values: tuple[Floats, Floats, Floats], step: int) -> tuple[Floats, Floats]:
    """Chance of a change before a step, and of the row it used, from the mass before and the values after."""
    before, plain, worth = values
    total = np.maximum((mass * before).sum(axis=(1, 2)), TINY)
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
    total = max(float((mass @ staying * value).sum() + moved.sum()), TINY)
    used = np.zeros(stepper.width)
    used[:-1] = np.triu(moved, 1).sum(axis=0)[1:]
    return float(moved.sum()) / total, used / total


def _arrived(stepper: Stepper, mass: Floats, value: Floats, step: int) -> Floats:
    """Chance that a change led to each state at a step (links between pairs of frames left aside)."""
    batch = stepper.batch
    here = batch.emit[batch.emit_at[:, step]]
    coming = arrivals(stepper, mass, step) * stepper.layout.popularity * batch.odds[:, step, None, None]
    moved = stepper.turned(mass) * (1 - batch.odds[:, step, None, None])
    came = (coming * value).sum(axis=1) * stepper.change(step) * here
    stayed = (moved * value).sum(axis=1) * stepper.stay(step) * here
    return np.asarray(came / np.maximum((came + stayed).sum(axis=1), TINY)[:, None])
