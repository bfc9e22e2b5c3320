"""
Simulated pairs whose matches are kept, so that a rule can be tried on them again and again.

One lens or two from one spot (the photographer swaying a little, or not at all), one lens from two places, and a longer
lens from so far back that something is as large as before. The two
halves of the split (scenes.py) share no photograph: background and pieces are of the same half. Each view has its own
exposure, blur, noise and JPEG; which of the two comes first is drawn.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.landmarks import Points, landmarks, matches
from tests.benchmarks.vision.deep_scenes import flat, photograph, scene, seen_from
from tests.benchmarks.vision.evaluate import as_taken
from tests.benchmarks.vision.scenes import FIT_SCENES, LEFT_OUT, TEST_SCENES, scene_path

__all__ = ["HALVES", "SETS", "KeptPair", "kept_pairs"]

HALVES = {"fit": tuple(name for name in FIT_SCENES if name not in LEFT_OUT), "test": TEST_SCENES}
RATIOS = (1.0, 1.0, 1.2, 1.4, 1.7, 2.0, 2.5, 4.0)
SWAY = 0.01  # of the nearest distance: a person who stays where he stands


@dataclass(frozen=True)
class PairSet:
    """How many pairs of a kind, how far the camera went between, and what else differs."""

    pairs: int
    forward: tuple[float, float]
    sideways: float  # frame widths that the nearest thing moves by
    longer: bool = False
    bent: float = 0.0
    flat: bool = False
    follows: bool = False  # another lens, and the step that keeps something as large as it was


SETS = {
    "one spot, still": PairSet(88, (0, 0), 0, longer=True),
    "one spot, swaying": PairSet(264, (-SWAY, SWAY), 1.2 * SWAY, longer=True),
    "one spot, swaying, distorted": PairSet(88, (-SWAY, SWAY), 1.2 * SWAY, longer=True, bent=0.02),
    "walk, .00-.15": PairSet(200, (0, 0.15), 0.12),
    "walk, .15-.30": PairSet(200, (0.15, 0.3), 0.12),
    "walk, .30-.50": PairSet(200, (0.3, 0.5), 0.12),
    "walk, flat, .15-.50": PairSet(40, (0.15, 0.5), 0.12, flat=True),
    "walk, another lens, one thing as large": PairSet(80, (0, 0), 0.12, follows=True),
}


@dataclass(frozen=True)
class KeptPair:
    """
    What was found alike in two views, and what is true of them.

    Attributes
    ----------
    a, b : array of float, shape (n, 2)
        Places in the first and in the second view. [px]
    size : tuple of int
        Of both views, reduced. [px]
    kind : str
        Name of its set.
    ratio : float
        Focal length of the second over that of the first.
    step : tuple of float
        Sideways and forward.
    """

    a: Points
    b: Points
    size: tuple[int, int]
    kind: str
    ratio: float
    step: tuple[float, float]


def _turn(longer: float, one_spot: bool, random: np.random.Generator) -> NDArray[np.float64]:
    if not one_spot:
        return np.asarray(cv2.Rodrigues(random.normal(0, 0.02, 3))[0])
    reach = 0.3 * (1 - 1 / longer) + 0.05  # as in evaluate.say_focal_ratios
    tilt, pan, roll = random.uniform(-reach, reach) * 0.5, random.uniform(-reach, reach) * 0.6, random.normal(0, 0.05)
    steps = [cv2.Rodrigues(np.array(axis))[0] for axis in ((tilt, 0.0, 0.0), (0.0, pan, 0.0), (0.0, 0.0, roll))]
    return np.asarray(steps[0] @ steps[1] @ steps[2])


def _pair(kind: str, number: int, pictures: list[NDArray[np.uint8]], random: np.random.Generator) -> KeptPair:
    of = SETS[kind]
    one = number // len(RATIOS) % len(pictures) if of.longer else number % len(pictures)
    other = (one + int(random.integers(1, len(pictures)))) % len(pictures)
    pieces = flat(pictures[one]) if of.flat else scene(pictures[one], pictures[other], random)
    longer = RATIOS[number % len(RATIOS)] if of.longer else 1.0
    sideways, forward = float(random.uniform(-of.sideways, of.sideways)), float(random.uniform(*of.forward))
    if of.follows:
        longer = float(random.uniform(1.3, 2.0))
        forward = (1 - longer) / float(random.uniform(0.3, 1.0))
    bent = [float(random.uniform(-of.bent, of.bent)) for _ in range(2)]
    views = [
        seen_from(pieces, 0.0, 0.0, np.eye(3), 1.0, bent[0]),
        seen_from(pieces, sideways, forward, _turn(longer, of.longer, random), longer, bent[1]),
    ]
    seen = [landmarks(as_taken(view, random)) for view in views]
    ratio = longer
    if random.random() < 0.5:
        seen, ratio = seen[::-1], 1 / longer
    a, b = matches(seen[0], seen[1])
    return KeptPair(a, b, seen[0].size, kind, ratio, (sideways, forward))


def kept_pairs(folder: Path, half: str) -> list[KeptPair]:
    """Return the pairs of a half; made where they are not kept yet, which takes half an hour."""
    pairs: list[KeptPair] = []
    pictures: list[NDArray[np.uint8]] = []
    for kind, of in SETS.items():
        place = folder / f"{half}-{kind.replace(', ', '-').replace(' ', '-')}.npz"
        if not place.exists():
            pictures = pictures or [photograph(scene_path(name)) for name in HALVES[half]]
            seeds = [[list(HALVES).index(half), list(SETS).index(kind), number] for number in range(of.pairs)]
            made = [_pair(kind, seed[2], pictures, np.random.default_rng(seed)) for seed in seeds]
            _keep(place, made)
        pairs.extend(_kept(place)[: of.pairs])
    return pairs


def _keep(place: Path, pairs: list[KeptPair]) -> None:
    told = [{key: value for key, value in asdict(pair).items() if key not in "ab"} for pair in pairs]
    places = {f"{side}{number}": getattr(pair, side) for number, pair in enumerate(pairs) for side in "ab"}
    place.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(place, told=np.array(json.dumps(told)), **places)


def _kept(place: Path) -> list[KeptPair]:
    with np.load(place) as kept:
        told = json.loads(str(kept["told"]))
        return [
            KeptPair(
                kept[f"a{number}"],
                kept[f"b{number}"],
                tuple(one["size"]),
                one["kind"],
                one["ratio"],
                tuple(one["step"]),
            )
            for number, one in enumerate(told)
        ]
