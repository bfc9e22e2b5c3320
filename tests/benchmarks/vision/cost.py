"""
What measuring costs against one full greyscale decode by the same library, on one core, side by side.

    OMP_NUM_THREADS=1 python -m tests.benchmarks.vision.cost

Some photographs enlarged or reduced to 20 megapixels and written at quality 92 with noise of a low ISO, as a camera
would: the ratios of cost are a camera's, but what was enlarged is soft pixel for pixel, so more of them than of a
camera's files need the full size. Then the photographs as they are, more compressed than a camera's files; and
of these the ones that have 13 to 24 megapixels by themselves. What it takes more to set a frame beside a sibling is for
frames of a moment with others that changed: a comparison alone, and one in which two fifths of the frame changed and
are judged. Ratios, not times.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from auditor.readers.pixels import read_pixels
from auditor.vision.change import Change, Reduced, change, reduced
from auditor.vision.drawn_out import drawn_out
from auditor.vision.frame import first_look, measure, needs_second_look, second_look
from tests.benchmarks.vision.scenes import photos_folder

REPEATS = 3


def best_of(work: Callable[[], object]) -> float:
    """Return the shortest of a few times. [s]."""
    times = []
    for _ in range(REPEATS):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return min(times)


def ratios(place: Path) -> tuple[float, float, bool]:
    """Return the cost of the first look and of both, in full decodes, and whether the second is needed."""

    def first() -> object:
        half = read_pixels(place, "jpeg", reduced=2)
        return first_look(half.grey, half.scale)

    def both() -> object:
        half = read_pixels(place, "jpeg", reduced=2)
        seen = first_look(half.grey, half.scale)
        full = read_pixels(place, "jpeg")
        return measure(seen, second_look(full.grey, full.scale, seen))

    half = read_pixels(place, "jpeg", reduced=2)
    decode = best_of(lambda: cv2.imread(str(place), cv2.IMREAD_GRAYSCALE))
    return best_of(first) / decode, best_of(both) / decode, needs_second_look(first_look(half.grey, half.scale))


def beside(place: Path) -> tuple[float, float]:
    """Return the cost of setting a frame beside a sibling, in full decodes: without and with judging what changed."""

    def compared() -> tuple[Reduced, Change | None]:
        small = reduced(read_pixels(place, "jpeg", reduced=4).grey)
        return small, change(small, small)

    def judged() -> object:
        small, _ = compared()
        cells = tuple(side // 8 for side in small.grey.shape)
        right = np.arange(cells[1])[None, :] >= 0.6 * cells[1]
        changed = np.ascontiguousarray(np.broadcast_to(right, cells))
        whole = read_pixels(place, "jpeg", reduced=2)
        return drawn_out(whole.grey, Change(changed, ~changed, 1.0, 0.0))

    decode = best_of(lambda: cv2.imread(str(place), cv2.IMREAD_GRAYSCALE))
    return best_of(compared) / decode, best_of(judged) / decode


def as_a_camera_writes(place: Path, folder: Path) -> Path:
    """Return a 20-megapixel file of a photograph, with a little noise."""
    picture = cv2.imread(str(place), cv2.IMREAD_COLOR)
    scale = (20e6 / (picture.shape[0] * picture.shape[1])) ** 0.5
    picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC).astype(np.float32)
    picture += np.random.default_rng(1).normal(0, 2, picture.shape)
    cv2.imwrite(str(folder / place.name), np.clip(picture, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 92])
    return folder / place.name


def _pixels(place: Path) -> int:
    return int(cv2.imread(str(place), cv2.IMREAD_GRAYSCALE).size)


def main() -> None:
    """Print the ratios."""
    places = sorted(photos_folder().glob("*.jpg"))
    with tempfile.TemporaryDirectory() as folder:
        for title, files in (
            (
                "20 megapixels, as a camera writes them",
                [as_a_camera_writes(place, Path(folder)) for place in places[::4]],
            ),
            ("as they are", places),
            ("of these, 13 to 24 megapixels", [place for place in places if 13e6 <= _pixels(place) <= 24e6]),
        ):
            found = np.array([ratios(place) for place in files])
            first, both = np.median(found[:, 0]), np.median(found[:, 1])
            print(f"{title}: first look {first:.1f} decodes (<= 3), both {both:.1f} (<= 8);", end=" ")
            aside = np.median([beside(place) for place in files], axis=0)
            print(f"beside a sibling {aside[0]:.1f} more, judged {aside[1]:.1f};", end=" ")
            print(f"full size needed for {int(found[:, 2].sum())} of {len(files)} (<= 1 in 4)")


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main()
