"""The forward pass over a batch of sequences: the mass of every state given all that came before."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from auditor.audit.sequence.chain import Batch, Floats, Stepper

__all__ = ["TINY", "arrivals", "forward", "running", "shift_mass"]

TINY = 1e-300
"""Keeps a division from failing where a sequence is padding."""


def shift_mass(stepper: Stepper, mass: Floats, step: int) -> Floats:
    """Let rows go by before a step; the mass that waited longest pays for passing them over."""
    for chosen, kind in stepper.shifts(step):
        old = mass[chosen]
        new = np.zeros_like(old)
        new[:, :-1] = old[:, 1:]
        new[:, 0] += old[:, 0] * stepper.batch.skip[kind]
        mass[chosen] = new
    return mass


def _starting(stepper: Stepper) -> Floats:
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
    mass = _starting(stepper)
    arriving = batch.unnoted[:, None, None] * mass[:, :, None] * np.ones(stepper.layout.states)
    with_row = np.zeros_like(arriving)
    if stepper.uses_rows(0):
        kinds = stepper.row_kinds(0)
        waiting = mass.copy()
        for offset in range(1, stepper.width):
            waiting[:, offset] += waiting[:, offset - 1] * batch.skip_start[kinds[:, offset - 1]]
        with_row[:, 1:] = (waiting * batch.use[:, 0])[:, :-1, None] * batch.match[kinds[:, :-1]]
    here = stepper.layout.popularity * batch.emit[batch.emit_at[:, 0]]
    put_on = (arriving + with_row) * (here * stepper.change(0))[:, None]
    noted = with_row * (here * stepper.change(0))[:, None]
    carried = (arriving + with_row) * (here * stepper.carried(0))[:, None]
    return put_on, noted, carried


def arrivals(stepper: Stepper, mass: Floats, step: int) -> Floats:
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
    arriving = odds * arrivals(stepper, mass, step) * stepper.layout.popularity
    staying = (1 - odds) * stepper.stay(step)[:, None]
    moved = stepper.turned(mass) * staying
    moved_carried = stepper.turned(carried) * staying * batch.kept[kind][:, None, None]
    emit = batch.emit[batch.emit_at[:, step]][:, None]
    new = (moved + arriving * stepper.change(step)[:, None]) * emit
    new_carried = (moved_carried + arriving * stepper.carried(step)[:, None]) * emit
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


def running(batch: Batch, step: int) -> npt.NDArray[np.bool_]:
    """Which sequences are as long as this step."""
    return batch.length > step


def forward(stepper: Stepper) -> tuple[Floats, Floats, Floats, Floats]:
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
        scale = np.maximum(mass.sum(axis=(1, 2)), TINY)
        scales[step] = np.where(running(batch, step), scale, 1.0)
        np.divide(mass, scale[:, None, None], out=masses[step])
        np.divide(carried, scale[:, None, None], out=carrieds[step])
    return masses, carrieds, scales, noted
