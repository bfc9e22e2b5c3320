"""
Pairs of one lens between which the photographer walked: how often they are called another lens.

    python -m tests.benchmarks.vision.walking [PAIRS]

**Simulated**, but for one pair: the two views of scikit-image's motorcycle, a real stereo pair. No photographs of real
walks are at hand. A scene is a photograph as far background, ground that comes nearer towards the lower edge, and up to
eight pieces of another photograph standing nearer; the camera goes sideways and forward, turns a little, and takes each
view with its own exposure, blur, noise and JPEG. Depth is in units of the nearest thing. For comparison the same walks
before a flat subject, where going nearer *is* a longer lens and nothing in the pixels can tell.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import skimage
from numpy.typing import NDArray

from auditor.vision.focal_ratio import FocalRatio, focal_ratio, landmarks
from tests.benchmarks.vision.evaluate import as_taken
from tests.benchmarks.vision.scenes import photos_folder
from tests.benchmarks.vision.strangers import ONE_SCENE_TWICE, read, upper

SIZE_PX = (1600, 1067)
FOCAL_PX = 1.2 * SIZE_PX[0]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Piece:
    """A picture standing at one depth, and where it is opaque."""

    grey: NDArray[np.uint8]
    opaque: NDArray[np.float32]
    nearness: Floats  # 1 over the depth, of each pixel; 1 is the nearest thing


def _photograph(place: Path) -> NDArray[np.uint8]:
    return np.asarray(cv2.resize(read(place), SIZE_PX, interpolation=cv2.INTER_AREA), np.uint8)


def scene(background: NDArray[np.uint8], other: NDArray[np.uint8], random: np.random.Generator) -> list[Piece]:
    """Return the pieces of a scene, the farthest first."""
    width, height = SIZE_PX
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    far, ground = random.uniform(0.02, 0.15), random.uniform(0.15, 0.6)
    horizon = random.uniform(0.4, 0.7) * height
    rise = np.clip((y - horizon) / (height - horizon), 0, 1)
    pieces = [Piece(background, np.ones((height, width), np.float32), far + (ground - far) * rise)]
    for nearness in sorted(random.uniform(0.25, 1.0, int(random.integers(2, 9)))):
        across, down = random.uniform(0.05, 0.16) * width, random.uniform(0.08, 0.3) * height
        middle = random.uniform(0, width), random.uniform(0.3, 1.0) * height
        inside = np.hypot((x - middle[0]) / across, (y - middle[1]) / down)
        pieces.append(Piece(other, np.clip((1 - inside) * 12, 0, 1), np.full((height, width), nearness)))
    return pieces


def flat(background: NDArray[np.uint8]) -> list[Piece]:
    """Return a facade: everything at the distance of the nearest thing."""
    shape = background.shape
    return [Piece(background, np.ones(shape, np.float32), np.ones(shape))]


def seen_from(pieces: list[Piece], sideways: float, forward: float, turn: Floats) -> NDArray[np.uint8]:
    """
    Return the view from another place.

    ``sideways`` is in frame widths that the nearest thing moves by, ``forward`` in its distance.
    """
    width, height = SIZE_PX
    y, x = np.mgrid[0:height, 0:width].astype(np.float64)
    x, y = x - (width - 1) / 2, y - (height - 1) / 2
    rotation = cv2.Rodrigues(turn)[0]
    rays = np.stack([x / FOCAL_PX, y / FOCAL_PX, np.ones_like(x)], axis=-1) @ rotation.T
    x, y = rays[..., 0] / rays[..., 2] * FOCAL_PX, rays[..., 1] / rays[..., 2] * FOCAL_PX
    view = np.zeros((height, width), np.float32)
    for piece in pieces:
        near = np.full(x.shape, float(piece.nearness.mean()))
        for _ in range(
            6 if np.ptp(piece.nearness) else 1
        ):  # where a ray meets the piece, its nearness not known before
            across = (x * (1 - forward * near) - sideways * width * near + (width - 1) / 2).astype(np.float32)
            down = (y * (1 - forward * near) + (height - 1) / 2).astype(np.float32)
            near = cv2.remap(piece.nearness.astype(np.float32), across, down, cv2.INTER_LINEAR,
                             borderMode=cv2.BORDER_REPLICATE).astype(np.float64)  # fmt: skip
        grey = cv2.remap(piece.grey.astype(np.float32), across, down, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
        opaque = cv2.remap(piece.opaque, across, down, cv2.INTER_LINEAR, borderValue=0.0)
        view += opaque * (grey - view)
    return np.clip(np.round(view), 0, 255).astype(np.uint8)


def compared(pieces: list[Piece], sideways: float, forward: float, random: np.random.Generator) -> FocalRatio:
    """Return what is said of the views before and after a step."""
    still = seen_from(pieces, 0.0, 0.0, np.zeros(3))
    walked = seen_from(pieces, sideways, forward, random.normal(0, 0.02, 3))
    return focal_ratio(landmarks(as_taken(still, random)), landmarks(as_taken(walked, random)))


def told(name: str, found: list[FocalRatio]) -> None:
    """Print how often a pair was called the same lens, another, or not told."""
    verdicts = Counter(one.verdict for one in found)
    another = verdicts["another"]
    moved = sum("moved" in one.reason for one in found)
    print(
        f"{name}: {len(found)} pairs, same {verdicts['same']}, another {another} ({another / len(found):.3f}, upper "
        f"bound {upper(another, len(found)):.3f}), not told {verdicts['unknown']} ({moved}: the camera moved)",
        flush=True,
    )


def main(pairs: int) -> None:
    """Print the shares."""
    random = np.random.default_rng(8)
    folder = Path(skimage.__file__).parent / "data"
    left, right = (landmarks(read(folder / f"motorcycle_{side}.png")) for side in ("left", "right"))
    told("the motorcycle, a real pair", [focal_ratio(left, right)])
    places = [place for place in sorted(photos_folder().glob("*.jpg")) if place.name not in ONE_SCENE_TWICE]
    photographs = [_photograph(place) for place in places]
    for low, high in ((0.0, 0.05), (0.05, 0.15), (0.15, 0.3), (0.3, 0.5)):
        deep, plane = [], []
        for number in range(pairs // 4):
            one, other = random.choice(len(photographs), 2, replace=False)
            sideways, forward = random.uniform(-0.12, 0.12), random.uniform(low, high)
            deep.append(compared(scene(photographs[one], photographs[other], random), sideways, forward, random))
            if number % 4 == 0:
                plane.append(compared(flat(photographs[one]), sideways, forward, random))
        told(f"forward by {low} to {high} of the nearest distance, in depth", deep)
        told(f"forward by {low} to {high} of the nearest distance, flat", plane)


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
