"""
Pairs of frames that share nothing: how often a focal ratio is claimed of them.

    python -m tests.benchmarks.vision.strangers [PAIRS]

Views are whole photographs and disjoint parts of them (3 × 3 with a strip left out between, so that no two parts share
a pixel), each with an exposure, blur, noise and JPEG of its own. Pairs: all parts of one photograph with each other,
which is where repeated windows, leaves and waves tempt most; all whole photographs with each other; and parts of
different photographs, drawn at random up to the number asked for. The upper bound is Clopper and Pearson's, one-sided
95 % (with none found it is the rule of three). Pairs that share a view are not independent: it is a little too low.
"""

from __future__ import annotations

import sys
from itertools import combinations
from pathlib import Path

import cv2
import numpy as np
import skimage
from numpy.typing import NDArray
from scipy.stats import beta

from auditor.vision.focal_ratio import focal_ratio
from auditor.vision.landmarks import Landmarks, landmarks
from tests.benchmarks.vision.evaluate import as_taken
from tests.benchmarks.vision.scenes import photos_folder

ONE_SCENE_TWICE = ("a06.jpg", "t1-defocus.jpg", "t1-shake.jpg")
"""Left out: a06 is b11 at another size, t1-* are one scene."""

SHOWS_A_THING_TWICE = ("b04.jpg",)
"""Its parts show the moon again and again, so they do share something: only whole, against others."""

SMALL = (
    "astronaut.png", "brick.png", "camera.png", "chelsea.png", "coffee.png", "coins.png", "grass.png", "gravel.png",
    "hubble_deep_field.jpg", "ihc.png", "motorcycle_left.png", "page.png", "retina.jpg", "rocket.jpg", "text.png",
)  # fmt: skip
"""Of scikit-image's pictures, those of at least 170 px a side that show different things."""

PARTS, STRIP = 3, 0.02
LONG_SIDE_PX = 1400
ENOUGH = 200  # landmarks: of a pair with fewer nothing would be said anyway


def read(place: Path) -> NDArray[np.uint8]:
    """Return a photograph in grey."""
    return np.asarray(cv2.imread(str(place), cv2.IMREAD_GRAYSCALE), np.uint8)


def parts_of(grey: NDArray[np.uint8]) -> list[NDArray[np.uint8]]:
    """Return disjoint parts of a photograph, a strip left out between them."""
    height, width = grey.shape[0] // PARTS, grey.shape[1] // PARTS
    across, down = int(STRIP * width), int(STRIP * height)
    return [
        grey[row * height + down : (row + 1) * height - down, column * width + across : (column + 1) * width - across]
        for row in range(PARTS)
        for column in range(PARTS)
    ]


def seen(grey: NDArray[np.uint8], random: np.random.Generator) -> Landmarks:
    """Return the landmarks of a view as a camera would have taken it."""
    scale = min(1.0, LONG_SIDE_PX / max(grey.shape))
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return landmarks(as_taken(np.asarray(small, np.uint8), random))


def told(name: str, pairs: list[tuple[Landmarks, Landmarks]]) -> tuple[int, int, int]:
    """Print how many pairs were accepted, and return that, of how many, and in how many anything could be."""
    found = [focal_ratio(a, b) for a, b in pairs]
    accepted = [one for one in found if np.isfinite(one.ratio)]
    rich = sum(min(len(a.places), len(b.places)) >= ENOUGH for a, b in pairs)
    another = sum(one.verdict == "another" for one in accepted)
    print(
        f"{name}: accepted {len(accepted)} of {len(pairs)} ({another} as another lens), upper bound "
        f"{upper(len(accepted), len(pairs)):.5f}; both have {ENOUGH} landmarks in {rich}; most that agreed "
        f"{max(one.inliers for one in found)}",
        flush=True,
    )
    for one in accepted:
        print(f"   ratio {one.ratio:.3f}, {one.inliers} points, {one.verdict}")
    return len(accepted), len(pairs), rich


def upper(found: int, of: int) -> float:
    """Return the upper end of Clopper and Pearson's one-sided 95 % interval."""
    return float(beta.ppf(0.95, found + 1, of - found))


def main(most: int) -> None:
    """Print the shares."""
    random = np.random.default_rng(3)
    photographs = [place for place in sorted(photos_folder().glob("*.jpg")) if place.name not in ONE_SCENE_TWICE]
    small = [Path(skimage.__file__).parent / "data" / name for name in SMALL]
    whole = {place.name: seen(read(place), random) for place in (*photographs, *small)}
    parts = {
        place.name: [seen(part, random) for part in parts_of(read(place))]
        for place in photographs
        if place.name not in SHOWS_A_THING_TWICE
    }
    counts = [
        told("parts of one photograph", [pair for some in parts.values() for pair in combinations(some, 2)]),
        told("whole photographs", list(combinations(whole.values(), 2))),
    ]
    every = [(name, part) for name, some in parts.items() for part in some]
    strangers = [(a[1], b[1]) for a, b in combinations(every, 2) if a[0] != b[0]]
    chosen = random.permutation(len(strangers))[: max(most - sum(of for _, of, _ in counts), 1)]
    counts.append(told("parts of different photographs", [strangers[one] for one in chosen]))
    accepted, of, rich = (sum(column) for column in zip(*counts, strict=True))
    print(f"in all {accepted} of {of}, upper bound {upper(accepted, of):.5f} (asked <= .001)")
    print(f"of the {rich} pairs with enough landmarks, upper bound {upper(accepted, rich):.5f}")


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5000)
