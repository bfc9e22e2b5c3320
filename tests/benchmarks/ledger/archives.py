"""Made-up archives whose truth is known: lens effects, difficulty that goes with the lens, bursts that are alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import expit, ndtr

from auditor.audit.condensed import CONDENSED
from auditor.audit.fair.trials import Trials, strata_of

LENSES = ("orla-50", "hale-85", "hale-35", "bruna-135")


@dataclass(frozen=True)
class Story:
    """What is true of an archive: logit of keeping = 1.5 - slope × stops above 3 + lens + trip - cost × stops lost."""

    bursts: int = 500
    effects: Mapping[str, float] = field(default_factory=dict)
    harder: Mapping[str, float] = field(default_factory=lambda: {"hale-85": 2.0, "bruna-135": 1.0})
    wrong: Mapping[str, float] = field(default_factory=lambda: dict.fromkeys(LENSES, 0.1))
    slope: float = 0.7
    cost: float = 0.6
    correlation: float = 0.3
    trip_spread: float = 0.4
    longest: int = 6
    shares: Mapping[str, float] = field(default_factory=lambda: dict.fromkeys(LENSES, 1.0))


@dataclass(frozen=True)
class Archive:
    """Condensed frames, the probability of keeping each with each lens, and which the right setting would have kept."""

    frames: pd.DataFrame
    chance: npt.NDArray[np.float64]
    lenses: tuple[str, ...]
    kept_if_right: npt.NDArray[np.bool_]


def made(story: Story, seed: int) -> Archive:
    """Draw an archive; the frames of a burst share lens, trip, difficulty and, in part, their fate."""
    rng = np.random.default_rng(seed)
    names = tuple(story.shares)
    share = np.array([story.shares[name] for name in names])
    size = rng.integers(1, story.longest + 1, story.bursts)
    burst = np.repeat(np.arange(story.bursts), size)
    lens = rng.choice(len(names), story.bursts, p=share / share.sum())
    trip = rng.integers(0, 8, story.bursts)
    hard = rng.normal(2.0, 1.6, story.bursts) + np.array([story.harder.get(name, 0.0) for name in names])[lens]
    wrong = rng.random(story.bursts) < np.array([story.wrong.get(name, 0.0) for name in names])[lens]
    lost = np.where(wrong, rng.uniform(1.0, 5.0, story.bursts), 0.0)
    effect = np.array([story.effects.get(name, 0.0) for name in names])
    base = 1.5 - story.slope * (hard - 3.0) + rng.normal(0.0, story.trip_spread, 8)[trip]
    chance = expit((base - story.cost * lost)[:, np.newaxis] + effect)[burst]
    if_right = expit(base[:, np.newaxis] + effect)[burst]
    shared, own = rng.normal(size=story.bursts)[burst], rng.normal(size=burst.size)
    # A shared normal part leaves each frame's own probability exactly as it is.
    fate = ndtr(np.sqrt(story.correlation) * shared + np.sqrt(1.0 - story.correlation) * own)
    kept = (fate < chance[np.arange(burst.size), lens[burst]]).astype(np.int8)
    frames = pd.DataFrame(dict.fromkeys(CONDENSED, np.nan), index=range(burst.size)).assign(
        lens=pd.Categorical.from_codes(lens[burst], list(names)),
        pairing=pd.Categorical.from_codes(lens[burst], list(names)),
        body=pd.Categorical(["one"] * burst.size),
        trip=pd.Categorical(trip[burst].astype(str)),
        support=pd.Categorical(["hand"] * burst.size),
        adapter=pd.Categorical(["m42-plain"] * burst.size),
        setting_verdict=pd.Categorical(np.where(wrong[burst], "too-long", "right")),
        setting_cause=pd.Categorical(np.where(wrong[burst], "carried-over", None)),
        kept=kept,
        burst=burst.astype(np.int32),
        year=(2024.0 + trip[burst] / 4.0),
        difficulty_stops=hard[burst],
        is_stabilised=True,
        stops_lost=lost[burst],
        effective_focal_mm=np.array([50.0, 85.0, 35.0, 135.0] * 9)[lens[burst]],
    )
    return Archive(frames, chance, names, fate < if_right[np.arange(burst.size), lens[burst]])


def truth(archive: Archive, trials: Trials, first: str, second: str) -> float:
    """Difference of two lenses over the frames that a comparison of both at their common mix uses."""
    a, b = trials.number(first), trials.number(second)
    stratum = strata_of(trials)
    counts = [np.bincount(stratum[trials.group == one], minlength=stratum.max() + 1) for one in (a, b)]
    used = ((counts[0] >= 5) & (counts[1] >= 5))[stratum] & np.isin(trials.group, (a, b))
    columns = [archive.lenses.index(name) for name in (first, second)]
    return float((archive.chance[used, columns[0]] - archive.chance[used, columns[1]]).mean())
