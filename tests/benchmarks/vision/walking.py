"""
Pairs from one spot and pairs between which the photographer walked: what is said of their lenses.

    python -m tests.benchmarks.vision.walking FOLDER [fit|test]           (pairs are made once and kept in FOLDER)
    python -m tests.benchmarks.vision.walking --real PICTURES             (folder of OpenCV's sample pictures)

**Simulated** (deep_scenes.py, pairs_kept.py): no series of photographs from real walks is at hand. The gates of
focal_ratio.py were chosen on the half called fit; the figures in DEVELOPERS.md are those of the other half. "as it was"
is the rule without the gate on displaced matches. Before a flat subject going nearer *is* a longer lens and nothing in
the pixels can tell.

**Real pairs** of one camera from two places, few: the samples of OpenCV (Apache-2.0; its source package, or Debian's
package opencv-doc: ``apt-get download opencv-doc``, ``dpkg-deb -x``, ``usr/share/doc/opencv-doc/examples/data``), which
are known by their hash and not passed on here, and scikit-image's motorcycle.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterable
from hashlib import sha256
from pathlib import Path
from unittest import mock

import cv2
import numpy as np
import skimage

from auditor.vision import focal_ratio as rule
from auditor.vision.focal_ratio import FocalRatio, focal_ratio, matched_ratio
from auditor.vision.landmarks import landmarks
from tests.benchmarks.vision.pairs_kept import SETS, KeptPair, kept_pairs
from tests.benchmarks.vision.strangers import read, upper

BANDS = ((1.0, 1.4, 0.90), (1.7, 2.5, 0.75), (4.0, 4.0, 0.55))

A_WALK = ("leuvenA.jpg", "leuvenB.jpg", "a street, from two places in it")
A_WALL = ("graf1.png", "graf3.png", "a wall, from two sides")
REAL_PAIRS = (A_WALK, A_WALL, ("aloeL.jpg", "aloeR.jpg", "a plant before a cloth, a step aside"))
STEREO = tuple(
    (f"left{number:02}.jpg", f"right{number:02}.jpg", "an office") for number in range(1, 15) if number != 10
)
OF_ALL_PICTURES = "6fccdbbbc890d2f974515c04fed2e78905d54c39d273ef6cde55cbab75a34791"
"""SHA-256 over the pictures above, in this order."""


def told(name: str, found: list[FocalRatio]) -> None:
    """Print how often a pair was called the same lens, another, or not told."""
    verdicts = Counter(one.verdict for one in found)
    another, same = verdicts["another"], verdicts["same"]
    moved = sum("moved" in one.reason for one in found)
    print(
        f"{name}: {len(found)} pairs, same {same}, another {another} ({another / len(found):.3f}, at 95 % at most "
        f"{upper(another, len(found)):.3f}), not told {verdicts['unknown']} ({moved}: the camera moved)",
        flush=True,
    )


def answered(name: str, pairs: list[KeptPair], found: list[FocalRatio]) -> None:
    """Print how many pairs from one spot are answered, how well, and how many are called what they are not."""
    apart = np.array([max(pair.ratio, 1 / pair.ratio) for pair in pairs])
    is_told = np.array([bool(np.isfinite(one.ratio)) for one in found])
    words = []
    for low, high, asked in BANDS:
        here = (apart >= low - 1e-6) & (apart <= high + 1e-6)
        words.append(f"{low}-{high}: {is_told[here].mean():.3f} of {here.sum()} (>= {asked})")
    off = np.array([abs(one.ratio / pair.ratio - 1) for one, pair in zip(found, pairs, strict=True)])[is_told]
    wrong = sum(one.verdict == "another" and by == 1.0 for one, by in zip(found, apart, strict=True))
    missed = sum(one.verdict == "same" and by > 1.25 for one, by in zip(found, apart, strict=True))
    print(
        f"{name}: answered {'; '.join(words)}; off {np.median(off):.4f} (median), {np.percentile(off, 95):.4f} (95 %); "
        f"the same called another {wrong}, another called the same {missed}",
        flush=True,
    )


def said_of(pairs: Iterable[KeptPair]) -> list[FocalRatio]:
    """Return what the program says of kept pairs."""
    return [matched_ratio((pair.a, pair.b), (pair.size, pair.size)) for pair in pairs]


def simulated(folder: Path, half: str) -> None:
    """Print the shares of a half, by the rule and as it was."""
    pairs = kept_pairs(folder, half)
    as_it_is = rule._MOST_DISPLACED_SHARE, rule._MOST_DISPLACED_SHARE_SAME
    for words, (most, most_same) in (("as it is", as_it_is), ("as it was", (1.0, 1.0))):
        print(f"-- {half}, {words}")
        with mock.patch.multiple(rule, _MOST_DISPLACED_SHARE=most, _MOST_DISPLACED_SHARE_SAME=most_same):
            for kind in SETS:
                here = [pair for pair in pairs if pair.kind == kind]
                (told if kind.startswith("walk") else _answered(here))(kind, said_of(here))
            long = [pair for pair in pairs if pair.kind in ("walk, .15-.30", "walk, .30-.50")]
            told("all long steps in depth", said_of(long))


def _answered(pairs: list[KeptPair]) -> Callable[[str, list[FocalRatio]], None]:
    return lambda name, found: answered(name, pairs, found)


def real(pictures: Path) -> None:
    """Print what is said of the real pairs, one way and the other."""
    every = [pictures / name for pair in (*REAL_PAIRS, *STEREO) for name in pair[:2]]
    digest = sha256(b"".join(place.read_bytes() for place in every)).hexdigest()
    if digest != OF_ALL_PICTURES:
        raise SystemExit(f"these are not the pictures that the figures are of: {digest}")
    data = Path(skimage.__file__).parent / "data"
    motorcycle = (data / "motorcycle_left.png", data / "motorcycle_right.png", "a motorcycle, a step aside")
    pairs = [(pictures / a, pictures / b, name) for a, b, name in (*REAL_PAIRS, *STEREO)]
    called = 0
    for first, second, name in (*pairs, motorcycle):
        a, b = landmarks(read(first)), landmarks(read(second))
        found = focal_ratio(a, b), focal_ratio(b, a)
        called += any(one.verdict == "another" for one in found)
        print(f"{name}: {', '.join(f'{one.verdict} {one.reason or round(one.ratio, 3)}' for one in found)}")
    of = len(pairs) + 1
    print(f"called another, one way or the other: {called} of {of}, at 95 % at most {upper(called, of):.2f}")


if __name__ == "__main__":
    cv2.setNumThreads(1)
    if sys.argv[1] == "--real":
        real(Path(sys.argv[2]))
    else:
        for chosen in sys.argv[2:] or ("fit", "test"):
            simulated(Path(sys.argv[1]), chosen)
