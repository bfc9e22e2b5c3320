"""Kits that do not name every lens, as new ones never do."""

from __future__ import annotations

import dataclasses

import numpy as np

from tests.benchmarks.pairing.photographer import World

__all__ = ["with_lenses_missing"]


def with_lenses_missing(world: World, seed: int, count: int) -> World:
    """
    Return the same archive with some lenses without contacts left out of the kit.

    Log rows that name one are left out, as reading the log leaves them out. Of such a frame the truth is that its lens
    is not known; whether its setting was wrong nobody can tell, and calling it wrong is a mistake.
    """
    manual = [lens.id for lens in world.kit.lenses if not lens.contacts]
    gone = set(np.random.default_rng([seed, 99]).choice(manual, count, replace=False))
    kit = world.kit.model_copy(update={"lenses": tuple(lens for lens in world.kit.lenses if lens.id not in gone)})
    log = tuple(row for row in world.log if row.lens not in gone)
    is_stranger = world.truth["true_lens"].isin(gone)
    truth = world.truth.assign(
        true_lens=world.truth["true_lens"].mask(is_stranger),
        true_adapter=world.truth["true_adapter"].mask(is_stranger),
        true_wrong=world.truth["true_wrong"].astype(bool) & ~is_stranger,
    )
    return dataclasses.replace(world, kit=kit, log=log, truth=truth)
