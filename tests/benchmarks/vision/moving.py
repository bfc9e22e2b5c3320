"""
Subjects that moved: how many are found, how often one is claimed where none moved, and what else was tried.

    python -m tests.benchmarks.vision.moving FOLDER     (the folder that simulate.py filled)

Put in: something of an irregular outline, 4 to 35 % of the frame, that moved by 8 to 60 px along a straight or a
wandering path, over a frame that is otherwise sharp where it is in focus. Not moved: all other frames of the folder.
Precision is said for as many moved frames as not; where subjects seldom move it is lower. The upper bounds are Clopper
and Pearson's, one-sided 95 %.

Then what was tried and is not in the program: each frame against a sharp frame of its scene, laid over it by its
landmarks, cell by cell. A subject that moved loses detail in one direction only; so does a cell in which something else
came to stand between the two frames, and that cannot be told apart well enough.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.vision.frame import first_look, measure, needs_second_look, second_look
from auditor.vision.landmarks import Landmarks, landmarks, matches
from tests.benchmarks.vision import simulate
from tests.benchmarks.vision.scenes import FIT_SCENES, LEFT_OUT, TEST_SCENES
from tests.benchmarks.vision.strangers import upper

MOVED_A_VIEW, VIEWS, MOST_ISO = 6, (0, 1), 1600
Grey, Floats, Picture = NDArray[np.uint8], NDArray[np.float64], NDArray[np.float32]


def outline(light: Picture, share: float, random: np.random.Generator) -> Picture:
    """Return an irregular outline of about this share of the frame, over one of the places with most detail."""
    height, width = light.shape
    middle = simulate.soft_patch(light, share, random)
    rough = random.normal(size=(max(3, height // 160), max(3, width // 160))).astype(np.float32)
    rough = cv2.resize(rough, (width, height), interpolation=cv2.INTER_CUBIC)
    return np.clip((middle + 0.35 * rough * (middle > 0.02) - 0.5) * 4 + 0.5, 0, 1).astype(np.float32)


def with_moved(light: Picture, random: np.random.Generator) -> Picture:
    """Return a scene in which something moved while the shutter was open."""
    mask = outline(light, float(np.exp(random.uniform(np.log(0.04), np.log(0.35)))), random)
    length = float(np.exp(random.uniform(np.log(8), np.log(60))))
    straight = random.random() < 0.65
    kernel = (
        simulate.motion_kernel(length, float(random.uniform(0, 180)))
        if straight
        else simulate.walk_kernel(length, random)[0]
    )
    drawn = simulate.blurred(mask, kernel)
    return simulate.mixed(drawn, simulate.blurred(light, kernel), light)


def with_another(light: Picture, random: np.random.Generator) -> Picture:
    """Return a scene in which something else stands, sharp, in a place."""
    mask = outline(light, float(np.exp(random.uniform(np.log(0.04), np.log(0.25)))), random)
    return simulate.mixed(mask, np.ascontiguousarray(light[::-1, ::-1]), light)


def out_of_focus(light: Picture, random: np.random.Generator) -> Picture:
    """Return a scene in which a part is out of focus."""
    mask = outline(light, float(np.exp(random.uniform(np.log(0.04), np.log(0.35)))), random)
    return simulate.mixed(mask, simulate.blurred(light, simulate.disc_kernel(float(random.uniform(2, 12)))), light)


def taken(scene: Picture, planned: simulate.Simulated, random: np.random.Generator) -> NDArray[np.uint8]:
    """Return a JPEG of a scene, held a little differently each time."""
    height, width = scene.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), random.normal(0, 0.4), 1 + random.normal(0, 0.004))
    turn[:, 2] += random.uniform(-0.02, 0.02, 2) * width
    held = cv2.warpAffine(scene, turn, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)
    soft = simulate.blurred(np.maximum(held, 0).astype(np.float32), simulate.gauss_kernel(random.uniform(0.5, 0.8)))
    picture = simulate.developed(soft, planned, random)
    return np.asarray(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, planned.quality])[1], np.uint8)


def kind_of(code: NDArray[np.uint8]) -> str:
    """Return the kind of blur that is told of a JPEG, by both looks where that takes both."""
    first = first_look(np.asarray(cv2.imdecode(code, cv2.IMREAD_REDUCED_GRAYSCALE_2), np.uint8))
    if not needs_second_look(first):
        return measure(first).kind
    return measure(first, second_look(np.asarray(cv2.imdecode(code, cv2.IMREAD_GRAYSCALE), np.uint8), 1.0, first)).kind


@dataclass(frozen=True, eq=False)
class Quarter:
    """A frame at quarter size with its landmarks, for the comparison inside a scene."""

    grey: Grey
    marks: Landmarks


def quarter_of(code: NDArray[np.uint8]) -> Quarter:
    """Return a JPEG at quarter size."""
    grey = np.asarray(cv2.imdecode(code, cv2.IMREAD_REDUCED_GRAYSCALE_4), np.uint8)
    return Quarter(grey, landmarks(grey))


def lost_one_way(frame: Quarter, sibling: Quarter) -> float:
    """Return how much detail neighbouring cells of a frame have lost in one direction alone against a sibling."""
    a, b = matches(sibling.marks, frame.marks)
    if len(a) < 20:
        return 0.0
    turn, agree = cv2.estimateAffinePartial2D(a, b, method=cv2.RANSAC, ransacReprojThreshold=2.0)
    if turn is None or agree.sum() < 15:
        return 0.0
    height, width = frame.grey.shape
    middle = np.array([(width - 1) / 2, (height - 1) / 2])
    turn[:, 2] += middle - turn[:, :2] @ middle
    laid = cv2.warpAffine(sibling.grey, turn, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT_101)
    (mine, my_noise), (other, its_noise) = _detail(frame.grey), _detail(np.asarray(laid, np.uint8))
    noise = max(my_noise, its_noise)
    known = (other.min(axis=2) > 2 * noise + 0.6)[1:-1, 1:-1]
    change = np.log((mine + 0.5 * noise + 0.3) / (other + 0.5 * noise + 0.3))[1:-1, 1:-1]
    if known.sum() < 8:
        return 0.0
    everywhere = np.median(change[known], axis=0)
    if np.median(everywhere) < -0.5 or np.ptp(everywhere) > 0.6:  # then all of it is blurred
        return 0.0
    return max(_cluster(change - np.median(everywhere), known, one) for one in range(8))


def _detail(grey: Grey) -> tuple[Floats, float]:
    """Return energy of detail by cell and in eight directions, without the noise, and the noise."""
    smooth = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), 1.0)
    across, up = (cv2.Sobel(smooth, cv2.CV_32F, *way, ksize=1, scale=0.5) for way in ((1, 0), (0, 1)))
    up = -up
    small = (max(1, grey.shape[1] // 12), max(1, grey.shape[0] // 12))
    noise = float(np.percentile(cv2.resize(across**2 + up**2, small, interpolation=cv2.INTER_AREA), 4)) / 2
    size = (max(4, grey.shape[1] // 48), max(4, grey.shape[0] // 48))
    xx, xy, yy = (cv2.resize(part, size, interpolation=cv2.INTER_AREA) for part in (across**2, across * up, up**2))
    turns = np.arange(8) * np.pi / 8
    energy = [xx * np.cos(t) ** 2 + 2 * xy * np.cos(t) * np.sin(t) + yy * np.sin(t) ** 2 for t in turns]
    return np.maximum(np.stack(energy, axis=-1) - noise, 0).astype(np.float64), noise


def _cluster(change: Floats, known: NDArray[np.bool_], way: int) -> float:
    across, along = change[:, :, way], change[:, :, (way + 4) % 8]
    lost = known & (across < -0.7) & (along - across > 0.5) & (along < 0.5)
    worth = np.where(lost, np.clip(along - across, 0, 2), 0) - np.where(known & ~lost, 0.3, 0)
    best = 0.0
    for side in (2, 3, 4, 5):
        sums, counts = (
            cv2.boxFilter(one.astype(np.float64), -1, (side, side), normalize=False, borderType=cv2.BORDER_CONSTANT)
            for one in (worth, lost)
        )
        best = max(best, float(np.where(counts >= 3, sums, 0).max()))
    return best


def say(name: str, scenes: tuple[str, ...], folder: Path) -> None:
    """Print what is found of the moved frames of some scenes, what is claimed of the others, and what was tried."""
    found, tried = [], {"moved": [], "still": [], "something else there": []}  # type: ignore[var-annotated]
    for scene in scenes:
        for variant in VIEWS:
            random = np.random.default_rng([80, variant, *scene.encode()])
            light = simulate.view(scene, variant, random)
            planned = replace(simulate.menu(scene, variant, random)[0], iso=int(random.choice([200, 400, 800, 1600])))
            sibling = quarter_of(taken(light, planned, random))
            for _ in range(MOVED_A_VIEW):
                code = taken(with_moved(light, random), planned, random)
                found.append(kind_of(code))
                tried["moved"].append(lost_one_way(quarter_of(code), sibling))
            for _ in range(2):
                still = (taken(one, planned, random) for one in (light, out_of_focus(light, random)))
                tried["still"] += [lost_one_way(quarter_of(code), sibling) for code in still]
                other = quarter_of(taken(with_another(light, random), planned, random))
                tried["something else there"].append(lost_one_way(other, sibling))
    frames = [frame for frame in json.loads((folder / "frames.json").read_text()) if frame["scene"] in scenes]
    still = [frame for frame in frames if frame["kind"] != "moved" and frame["iso"] <= MOST_ISO]
    claimed = [frame for frame in still if kind_of(np.fromfile(folder / frame["file"], np.uint8)) == "subject-moved"]
    hits, false = found.count("subject-moved"), len(claimed)
    told = {kind: found.count(kind) for kind in sorted(set(found))}
    print(
        f"{name}: found {hits} of {len(found)} ({told}); claimed of {false} of {len(still)} that did not move", end=" "
    )
    print(f"(upper bound {upper(false, len(still)):.4f})", [(one["scene"], one["kind"]) for one in claimed], flush=True)
    for least in (1.0, 2.0, 4.0):
        counts = {what: f"{sum(one >= least for one in some)} of {len(some)}" for what, some in tried.items()}
        print(f"  tried: against a sharp sibling, at least {least}: {counts}", flush=True)


def main(folder: Path) -> None:
    """Print the shares, for the scenes that thresholds were chosen on and for the others."""
    say("chosen on", tuple(scene for scene in FIT_SCENES if scene not in LEFT_OUT), folder)
    say("tested on", TEST_SCENES, folder)


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(Path(sys.argv[1]))
