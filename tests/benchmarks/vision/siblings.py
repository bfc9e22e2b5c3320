"""
Pairs of frames of one scene in which a subject moved, walked on, was replaced, or did nothing of the kind.

    python -m tests.benchmarks.vision.siblings FOLDER

What stands in a scene is cut out of another photograph of the same half of the split, and put at one of three places:
drawn out by its motion, sharp, or out of focus. Every frame is held a little differently. Writes grey JPEG files,
``fit.json`` and ``test.json`` into a folder: ten minutes' work.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.vision import simulate
from tests.benchmarks.vision.moving import outline
from tests.benchmarks.vision.scenes import FIT_SCENES, LEFT_OUT, TEST_SCENES

Picture = NDArray[np.float32]
Random = np.random.Generator
FIT_VIEWS, TEST_VIEWS = (0, 1, 3), (0, 1)


@dataclass(frozen=True)
class Pair:
    """A frame, the sibling that it is set beside, and what was put into it."""

    frame: str
    sibling: str
    scene: str
    what: str
    moved: bool
    share: float  # of the frame that the subject covers
    length_px: float
    direction_deg: float


@dataclass(frozen=True, eq=False)
class Subject:
    """Something cut out of another photograph: how much of each point it covers, and its light."""

    mask: Picture
    light: Picture
    share: float


def subject(donor: Picture, size: tuple[int, int], brightness: float, random: Random) -> Subject:
    """Cut a subject out of a photograph, and move it to the middle of a frame of a size (height, width)."""
    wanted = float(np.exp(random.uniform(np.log(0.04), np.log(0.35))))
    share = min(0.5, wanted * size[0] * size[1] / donor.size)
    mask = outline(donor, share, random)
    rows, columns = np.nonzero(mask > 0.5)
    if rows.size == 0:
        return subject(donor, size, brightness, random)
    across, down = size[1] / 2 - columns.mean(), size[0] / 2 - rows.mean()
    laid = (_shifted(one, across, down, size) for one in (mask, donor))
    mask, light = laid
    level = float((mask * light).sum() / max(float(mask.sum()), 1.0))
    factor = brightness * float(random.uniform(0.6, 1.6)) / max(level, 1e-3)
    return Subject(mask, np.minimum(light * factor, 2.0).astype(np.float32), float((mask > 0.5).mean()))


def _shifted(light: Picture, across: float, down: float, size: tuple[int, int]) -> Picture:
    turn = np.array([[1, 0, round(across)], [0, 1, round(down)]], np.float32)
    return np.asarray(cv2.warpAffine(light, turn, (size[1], size[0]), flags=cv2.INTER_NEAREST), np.float32)


def put(light: Picture, who: Subject, place: tuple[float, float], kernel: NDArray[np.float32] | None = None) -> Picture:
    """Return a scene with a subject at a place (shares of width and height from the middle), spread by a kernel."""
    height, width = light.shape
    mask, there = (_shifted(one, place[0] * width, place[1] * height, light.shape) for one in (who.mask, who.light))
    if kernel is None:
        return simulate.mixed(mask, there, light)
    return simulate.blurred(mask * there, kernel) + (1 - simulate.blurred(mask, kernel)) * light


def motion(random: Random) -> tuple[NDArray[np.float32], float, float]:
    """Return the kernel of a subject's motion, its length and direction."""
    length, direction = float(np.exp(random.uniform(np.log(8), np.log(60)))), float(random.uniform(0, 180))
    if random.random() < 0.65:
        return simulate.motion_kernel(length, direction), length, direction
    kernel, direction = simulate.walk_kernel(length, random)
    return kernel, length, direction


def walked(light: Picture, random: Random) -> Picture:
    """Return a scene from a step aside: layers of depth that shift by up to 1 % of the width."""
    height, width = light.shape
    rough = cv2.GaussianBlur(random.normal(size=(9, 12)).astype(np.float32), (0, 0), 1.2)
    near = cv2.resize(rough / np.abs(rough).max(), (width, height), interpolation=cv2.INTER_CUBIC)
    near = np.round(near * 3) / 3 * float(random.uniform(0.003, 0.01)) * width
    near = cv2.GaussianBlur(near, (0, 0), 4)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    turn = random.uniform(0, 2 * np.pi)
    across, down = x + near * np.float32(np.cos(turn)), y + near * np.float32(0.3 * np.sin(turn))
    return np.asarray(cv2.remap(light, across, down, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101), np.float32)


def taken(scene: Picture, planned: simulate.Simulated, random: Random) -> NDArray[np.uint8]:
    """Return a JPEG of a scene, held a little differently each time."""
    height, width = scene.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), random.normal(0, 0.4), 1 + random.normal(0, 0.004))
    turn[:, 2] += random.uniform(-0.02, 0.02, 2) * width
    held = cv2.warpAffine(scene, turn, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)
    soft = simulate.blurred(np.maximum(held, 0).astype(np.float32), simulate.gauss_kernel(random.uniform(0.5, 0.8)))
    picture = simulate.developed(soft * float(np.exp(random.normal(0, 0.1))), planned, random)
    return np.asarray(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, planned.quality])[1], np.uint8)


def shaken(light: Picture, least_px: float, most_px: float, random: Random) -> Picture:
    """Return a scene that the camera shook over."""
    length = float(np.exp(random.uniform(np.log(least_px), np.log(most_px))))
    straight = simulate.motion_kernel(length, float(random.uniform(0, 180)))
    return simulate.blurred(light, straight if random.random() < 0.5 else simulate.walk_kernel(length, random)[0])


def soft(light: Picture, least_px: float, most_px: float, random: Random) -> Picture:
    """Return a scene out of focus by a radius."""
    return simulate.blurred(light, simulate.disc_kernel(float(random.uniform(least_px, most_px))))


Told = tuple[str, str, Picture, str, Subject | None, float, float]  # name, sibling, scene, what, who, length, direction


def frames_of_view(
    light: Picture, one: Subject, two: Subject, random: Random
) -> tuple[dict[str, Picture], Iterator[Told]]:
    """Return the siblings of one view of a scene, and the frames to set beside them."""
    ahead = [(-0.24, float(random.uniform(-0.2, 0.2))), (0.24, float(random.uniform(-0.2, 0.2)))]
    here, there = ahead if random.random() < 0.5 else ahead[::-1]
    third = (float(random.uniform(-0.05, 0.05)), float(random.uniform(-0.25, 0.25)))
    siblings = {
        "empty": light,
        "one-there": put(light, one, there),
        "one-here": put(light, one, here),
        "two-there": put(light, two, there),
        "one-moves-there": put(light, one, there, motion(random)[0]),
    }

    def drawn(who: Subject, place: tuple[float, float], sibling: str, what: str, name: str) -> Told:
        kernel, length, direction = motion(random)
        return name, sibling, put(light, who, place, kernel), what, who, length, direction

    def still(name: str, sibling: str, scene: Picture, what: str) -> Told:
        return name, sibling, scene, what, None, 0.0, float("nan")

    def frames() -> Iterator[Told]:
        yield drawn(one, here, "one-there", "walked on", "m0")
        yield drawn(one, third, "one-there", "walked on", "m1")
        yield drawn(two, here, "two-there", "walked on", "m2")
        yield drawn(two, third, "two-there", "walked on", "m3")
        yield drawn(one, here, "one-here", "on the spot", "m4")
        yield drawn(two, here, "empty", "came", "m5")
        yield drawn(one, here, "one-moves-there", "both move", "m6")
        yield still("s0", "empty", light, "nothing")
        yield still("s1", "one-there", put(light, one, here), "walked on, sharp")
        yield still("s2", "two-there", put(light, two, third), "walked on, sharp")
        yield still("s3", "one-there", put(light, two, there), "another there, sharp")
        yield still("s4", "two-there", light, "went")
        yield still("s5", "one-moves-there", put(light, one, here), "sibling moved")
        blur = simulate.disc_kernel(float(random.uniform(2, 12)))
        yield still("s6", "one-there", put(light, one, here, blur), "walked on, out of focus")
        blur = simulate.disc_kernel(float(random.uniform(2, 12)))
        yield still("s7", "one-here", put(light, one, here, blur), "on the spot, out of focus")
        yield still("s8", "empty", walked(light, random), "parallax")
        yield still("s9", "two-there", walked(put(light, two, third), random), "walked on, sharp, parallax")
        yield still("sa", "one-there", shaken(put(light, one, here), 8, 40, random), "shaken")
        yield still("sb", "two-there", shaken(put(light, two, third), 3, 8, random), "slightly shaken")
        yield still("sc", "one-there", soft(put(light, one, here), 3, 12, random), "missed focus")
        yield still("sd", "two-there", put(soft(light, 4, 15, random), two, here), "background out of focus")
        yield still("se", "one-there", put(shaken(light, 10, 40, random), one, here), "panned")
        behind = shaken(np.ascontiguousarray(light[:, ::-1]), 10, 40, random)
        yield still("sf", "one-here", put(behind, one, here), "panned along")
        yield still("sg", "one-here", put(light, two, third), "another elsewhere, sharp")

    return siblings, frames()


def of_view(scene: str, others: tuple[str, ...], variant: int, folder: Path) -> Iterator[Pair]:
    """Write the frames of one view of a scene, and say what they are."""
    random = np.random.default_rng([90, variant, *scene.encode()])
    light = simulate.view(scene, variant, random)
    planned = replace(simulate.menu(scene, variant, random)[0], iso=int(random.choice([200, 400, 800, 1600])))
    donors = [str(one) for one in random.choice([one for one in others if one != scene], 2, replace=False)]
    level = float(light.mean())
    one, two = (subject(simulate.view(donor, variant, random), light.shape, level, random) for donor in donors)
    siblings, frames = frames_of_view(light, one, two, random)

    def write(name: str, picture: Picture) -> str:
        file = f"{scene}-{variant}-{name}.jpg"
        taken(picture, planned, random).tofile(folder / file)
        return file

    written = {name: write(name, picture) for name, picture in siblings.items()}
    for name, sibling, picture, what, who, length, direction in frames:
        share = who.share if who else 0.0
        yield Pair(write(name, picture), written[sibling], scene, what, who is not None, share, length, direction)


def main(folder: Path) -> None:
    """Write all pairs."""
    folder.mkdir(parents=True, exist_ok=True)
    fit = tuple(scene for scene in FIT_SCENES if scene not in LEFT_OUT)
    for name, half, views in (("fit", fit, FIT_VIEWS), ("test", TEST_SCENES, TEST_VIEWS)):
        pairs: list[dict[str, object]] = []
        for scene in half:
            for variant in views:
                pairs.extend(asdict(pair) for pair in of_view(scene, half, variant, folder))
                (folder / f"{name}.json").write_text(json.dumps(pairs, indent=0), encoding="utf-8")
                print(scene, variant, len(pairs), flush=True)


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(Path(sys.argv[1]))
