"""Simulated photographers: their hands, their bodies, what they keep. Every number here is invented."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.constants import RAYLEIGH_MEDIAN
from auditor.shake.trials import Trials

TOLERANCE_UM = 14.43  # diagonal ÷ 1500 of a 17.3 × 13.0 mm sensor
CROP = 2.0
RATED = 5.0
FOCALS_MM = np.array([12.0, 17.5, 25.0, 35.5, 50.0, 60.35, 85.0])
THIRDS = 2.0 ** (np.arange(-27, 1) / 3.0)  # 1/512 s to 1 s


@dataclass(frozen=True)
class Photographer:
    shake_mrad: float  # for the tolerance assumed: pickiness is in it
    exponent: float
    stops: float
    spread_stops: float
    other_keep: float
    burst_share: float  # of the spread that a whole burst has in common


def draw(rng: np.random.Generator) -> Photographer:
    """Draw someone: shaky or steady, choosy or not, on a body better or worse than rated."""
    exponent = rng.uniform(0.6, 0.95)
    half_time = 1 / 50 * 2.0 ** rng.normal(0.0, 1.0)
    pickiness = 2.0 ** rng.normal(0.0, 0.3)
    shake = TOLERANCE_UM / pickiness / (RAYLEIGH_MEDIAN * 50.0 / CROP) / (half_time * 60) ** exponent
    return Photographer(
        shake,
        exponent,
        rng.normal(RATED - 1.0, 0.8),
        rng.uniform(0.35, 0.7),
        rng.uniform(0.6, 0.98),
        rng.uniform(0, 0.7),
    )


def shoot(
    who: Photographer,
    frames: int,
    rng: np.random.Generator,
    *,
    off_share: float,
    setting_spread: float,
    bursts: bool,
) -> Trials:
    """Shoot and cull: every frame of a burst has its shutter time, lens and setting in common."""
    sizes: list[int] = []
    while sum(sizes) < frames:
        sizes.append(int(rng.integers(3, 7)) if bursts and rng.random() < 0.25 else 1)
    burst = np.repeat(np.arange(len(sizes)), sizes)[:frames]
    groups = len(sizes)
    time = rng.choice(THIRDS, groups)[burst]
    focal = rng.choice(FOCALS_MM, groups)[burst]
    off = (rng.random(groups) < off_share)[burst]
    gain = np.exp(rng.normal(0.0, setting_spread, groups))[burst] if setting_spread else np.ones(frames)
    error = np.abs(1.0 - gain)
    left = np.where(off, 1.0, np.hypot(error, 2.0 ** (-who.exponent * who.stops)))
    together = rng.normal(size=groups)[burst] * who.burst_share**0.5
    steadiness = who.spread_stops * (together + rng.normal(size=frames) * (1.0 - who.burst_share) ** 0.5)
    sigma = focal * left * who.shake_mrad * (time * 60) ** who.exponent * 2.0**steadiness
    kept = (rng.rayleigh(sigma) <= TOLERANCE_UM) & (rng.random(frames) < who.other_keep)
    return Trials(
        time, focal, np.full(frames, TOLERANCE_UM), np.where(off, np.nan, error), kept, burst.astype(np.int64)
    )
