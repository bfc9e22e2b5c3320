"""The single most likely course of a batch of sequences."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from auditor.audit.sequence.chain import Batch, Floats, Ints, Layout, Stepper

__all__ = ["best_paths"]

_TINY = 1e-300


def best_paths(layout: Layout, batch: Batch) -> tuple[Ints, Floats]:
    """
    Return the most likely path of each sequence.

    Parameters
    ----------
    layout : Layout
        What is the same at every step.
    batch : Batch
        Sequences side by side.

    Returns
    -------
    path : array of int, shape (sequences, steps)
        State of each step; padding repeats the last.
    log_likelihood : array of float, shape (sequences,)
        Natural logarithm of the likelihood of that path together with all that was seen.

    Notes
    -----
    Time and memory are linear in steps and in states: a change from anywhere needs only the best state to come from,
    and the best of another group.

    References
    ----------
    .. [1] A. J. Viterbi, Error bounds for convolutional codes, IEEE Trans. Inf. Theory 13 (1967) 260-269 (from memory).
    """
    stepper = Stepper(layout, batch)
    count, steps = batch.emit_at.shape
    shape = (steps, count, stepper.width, layout.states)
    pointers = np.empty(shape, dtype=np.int32)
    best = np.empty(shape)
    log_scale = np.zeros(count)
    mass = _put_on(stepper)
    for step in range(steps):
        if step:
            shifted, origin = _shifted(stepper, best[step - 1], step)
            mass, came_from = _best_step(stepper, shifted, step)
            flat = came_from.reshape(count, -1)
            before = np.take_along_axis(origin.reshape(count, -1), flat, axis=1)
            pointers[step] = (before * layout.states + flat % layout.states).reshape(mass.shape)
        scale = np.maximum(mass.max(axis=(1, 2)), _TINY)
        np.divide(mass, scale[:, None, None], out=best[step])
        log_scale += np.where(batch.length > step, np.log(scale), 0.0)
    return _traced(stepper, best, pointers, log_scale)


def _traced(stepper: Stepper, best: Floats, pointers: npt.NDArray[np.int32], log_scale: Floats) -> tuple[Ints, Floats]:
    batch, states = stepper.batch, stepper.layout.states
    steps = best.shape[0]
    final = (best[batch.length - 1, stepper.sequences] * stepper.leftover()).reshape(len(batch.length), -1)
    at = final.argmax(axis=1)
    log_likelihood = log_scale + np.log(np.maximum(final.max(axis=1), _TINY))
    path = np.empty((len(batch.length), steps), dtype=np.int64)
    for step in range(steps - 1, -1, -1):
        path[:, step] = at % states
        back = pointers[step].reshape(len(at), -1)[stepper.sequences, at]
        if step:
            at = np.where(batch.length > step, back, at)
    return path, log_likelihood


def _put_on(stepper: Stepper) -> Floats:
    """Likelihood of the best way to each offset and state at the first step."""
    batch = stepper.batch
    mass = np.zeros((len(batch.length), stepper.width))
    mass[:, stepper.reach] = 1.0
    for chosen, kind in stepper.shifts(0):
        old = mass[chosen]
        new = np.zeros_like(old)
        new[:, :-1] = old[:, 1:]
        new[:, 0] = np.maximum(new[:, 0], old[:, 0] * batch.skip_start[kind])
        mass[chosen] = new
    arriving = batch.unnoted[:, None, None] * mass[:, :, None] * np.ones(stepper.layout.states)
    if stepper.uses_rows(0):
        kinds = stepper.row_kinds(0)
        waiting = mass.copy()
        for offset in range(1, stepper.width):
            passed = waiting[:, offset - 1] * batch.skip_start[kinds[:, offset - 1]]
            waiting[:, offset] = np.maximum(waiting[:, offset], passed)
        noted = (waiting * batch.use[:, 0])[:, :-1, None] * batch.match[kinds[:, :-1]]
        arriving[:, 1:] = np.maximum(arriving[:, 1:], noted)
    here = stepper.layout.popularity * batch.emit[batch.emit_at[:, 0]] * stepper.change(0)
    return arriving * here[:, None]


def _shifted(stepper: Stepper, best: Floats, step: int) -> tuple[Floats, Ints]:
    """Let rows go by; also return, for each offset and state, the offset it had before."""
    mass = best.copy()
    origin = np.broadcast_to(np.arange(stepper.width)[None, :, None], mass.shape).copy()
    for chosen, kind in stepper.shifts(step):
        old, old_origin = mass[chosen], origin[chosen]
        new, new_origin = np.zeros_like(old), np.zeros_like(old_origin)
        new[:, :-1], new_origin[:, :-1] = old[:, 1:], old_origin[:, 1:]
        dropped = old[:, 0] * stepper.batch.skip[kind]
        better = dropped > new[:, 0]
        new[:, 0] = np.where(better, dropped, new[:, 0])
        new_origin[:, 0] = np.where(better, old_origin[:, 0], new_origin[:, 0])
        mass[chosen], origin[chosen] = new, new_origin
    return mass, origin


def _best_stay(stepper: Stepper, mass: Floats) -> tuple[Floats, Ints]:
    """Best way to each state without a change, and the state it comes from."""
    value = mass.copy()
    source = np.broadcast_to(np.arange(stepper.layout.states), mass.shape).copy()
    if len(stepper.members):
        ways = mass[..., stepper.members, None] * stepper.turn
        value[..., stepper.members] = ways.max(axis=-2)
        source[..., stepper.members] = stepper.members[ways.argmax(axis=-2)]
    return value, source


def _best_elsewhere(stepper: Stepper, mass: Floats) -> tuple[Floats, Ints]:
    """For each state, the best mass among the states of other groups, and where it is."""
    group = stepper.layout.group
    first = mass.argmax(axis=-1)[..., None]
    own = group == group[first]
    rest = np.where(own, -1.0, mass)
    second = rest.argmax(axis=-1)[..., None]
    best, next_best = np.take_along_axis(mass, first, axis=-1), np.take_along_axis(rest, second, axis=-1)
    return np.where(own, np.maximum(next_best, 0.0), best), np.where(own, second, first)


def _best_step(stepper: Stepper, mass: Floats, step: int) -> tuple[Floats, Ints]:
    """Best mass of each offset and state at a step, and the offset and state (as one number) it came from."""
    batch, states = stepper.batch, stepper.layout.states
    odds = batch.odds[:, step, None, None]
    rows = np.arange(stepper.width)[None, :, None] * states
    value, source = _best_stay(stepper, mass)
    value *= (1 - odds) * stepper.stay(step)[:, None]
    source = source + rows
    leaving = mass * stepper.leave
    coming = odds * stepper.layout.popularity * stepper.change(step)[:, None]
    plain, plain_from = _best_elsewhere(stepper, leaving)
    plain = plain * coming * batch.unnoted[:, None, None]
    source = np.where(plain > value, plain_from + rows, source)
    value = np.maximum(value, plain)
    if stepper.uses_rows(step):
        noted, noted_from = _best_noted(stepper, leaving, step)
        noted = noted * coming
        later, later_from = value[:, 1:], source[:, 1:]
        source[:, 1:] = np.where(noted > later, noted_from, later_from)
        value[:, 1:] = np.maximum(later, noted)
    value = value * batch.emit[batch.emit_at[:, step]][:, None]
    for sequence in stepper.linked(step):
        value[sequence], source[sequence] = _best_linked(stepper, mass[sequence], (sequence, step))
    return value, source


def _best_noted(stepper: Stepper, leaving: Floats, step: int) -> tuple[Floats, Ints]:
    """Best change with a row, to each offset but the first, and the offset and state it came from."""
    batch, states = stepper.batch, stepper.layout.states
    kinds = stepper.row_kinds(step)
    waiting = leaving.copy()
    since = np.broadcast_to(np.arange(stepper.width)[None, :, None], waiting.shape).copy()
    for offset in range(1, stepper.width):
        passed = waiting[:, offset - 1] * batch.skip[kinds[:, offset - 1]]
        better = passed > waiting[:, offset]
        waiting[:, offset] = np.where(better, passed, waiting[:, offset])
        since[:, offset] = np.where(better, since[:, offset - 1], since[:, offset])
    value, came_from = _best_elsewhere(stepper, waiting[:, :-1])
    value = value * batch.use[:, step, :-1, None] * batch.match[kinds[:, :-1]]
    return value, np.take_along_axis(since[:, :-1], came_from, axis=-1) * states + came_from


def _best_linked(stepper: Stepper, mass: Floats, at: tuple[int, int]) -> tuple[Floats, Ints]:
    """Do the same for one sequence at a step with a measured pair, where every pair of states has its own weight."""
    width, states = mass.shape
    staying, changing, _ = stepper.written_out(at)
    every = changing
    for offset in range(width):
        every[offset, :, offset, :] += staying
    ways = (mass[:, :, None, None] * every).reshape(width * states, width, states)
    return ways.max(axis=0), ways.argmax(axis=0)
