"""
Focal ratios as the pixels would give them, for the simulated photographers.

Nothing is shared with the model: who changes a lens on the spot is drawn, ratios err as they did on photographs
(README, "What the pixels say", and the measurements before it: half of them by less than 0.65 %, one in twenty by up to
5 %), focus breathing comes on top, the far ratios are often not answered, and a few photographers step forward.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd

from tests.benchmarks.pairing.photographer import World

SHARE = 0.45
"""Of the pauses in which the lens may have been changed: those with a picture of the same scene on both sides. As far
ratios are often not answered, some three in ten lens changes come to be measured."""

SHORTEST_S, LONGEST_S = 5.0, 900.0
MEDIAN_ERROR, TAIL_SHARE, TAIL_ERROR = 0.0065, 0.05, 0.05
STEPS_FORWARD = 0.003
ANSWERED_UP_TO = ((1.4, 0.95), (2.5, 0.85), (4.0, 0.7), (np.inf, 0.0))
SAME_UP_TO, ANOTHER_FROM = 1.15, 1.20


def with_overlaps(world: World, seed: int, *, share: float = SHARE) -> World:
    """Return the same world with what `measure` would have found, whether or not a lens was changed."""
    random = np.random.default_rng([seed, 23])
    table = world.frames.merge(world.truth, on="path", validate="one_to_one")
    rows = []
    for _, body in table.sort_values("captured_at", kind="stable").groupby("model"):
        at = body["captured_at"].to_numpy("datetime64[us]").astype(np.int64) / 1e6
        focal = body["true_focal_mm"].to_numpy(np.float64)
        paths, reported = body["path"].to_numpy(object), body["f_number"].notna().to_numpy()
        for place in np.flatnonzero((np.diff(at) >= SHORTEST_S) & (np.diff(at) <= LONGEST_S)):
            if random.random() < share and not reported[place : place + 2].all():
                rows += _measured(random, (paths[place], paths[place + 1]), focal[place + 1] / focal[place])
    columns = ["archive", "path_a", "path_b", "focal_ratio", "focal_ratio_low", "focal_ratio_high"]
    overlaps = pd.DataFrame(rows, columns=[*columns, "overlap_verdict", "problem"])
    return dataclasses.replace(world, overlaps=overlaps)


def _measured(random: np.random.Generator, paths: tuple[str, str], true_ratio: float) -> list[tuple[object, ...]]:
    apart = max(true_ratio, 1 / true_ratio)
    if random.random() > next(chance for limit, chance in ANSWERED_UP_TO if apart <= limit):
        return []
    error = random.normal(0, MEDIAN_ERROR / 0.6745)
    if random.random() < TAIL_SHARE:
        error = random.uniform(-TAIL_ERROR, TAIL_ERROR)
    breathing = random.normal(0, 0.01)
    stepped = random.uniform(-0.25, 0.25) if random.random() < STEPS_FORWARD else 0.0
    ratio = true_ratio * float(np.exp(error + breathing + stepped))
    spread = max(0.015, float(random.exponential(0.01)))
    seen = max(ratio, 1 / ratio)
    verdict = "same" if seen < SAME_UP_TO else "another" if seen > ANOTHER_FROM else "unknown"
    return [("main", *paths, ratio, ratio * np.exp(-2 * spread), ratio * np.exp(2 * spread), verdict, None)]
