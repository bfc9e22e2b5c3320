"""
The table of targets, on scenes that nothing was fitted on.

    python -m tests.benchmarks.vision.evaluate FOLDER     (the folder that simulate.py filled)

Frames go through what ``measure`` does: half size first, full size where that leaves the kind of blur open.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from auditor.readers.pixels import read_pixels
from auditor.vision.focal_ratio import focal_ratio
from auditor.vision.frame import first_look, measure, needs_second_look, second_look
from auditor.vision.landmarks import landmarks
from tests.benchmarks.vision.scenes import TEST_SCENES, scene_path

TRUTH = {"sharp": "sharp", "moved": "sharp", "shake": "shake", "defocus": "missed-focus"}
MOST_ISO = 1600  # as noisy as a current camera at 6400, see simulate.py


def measured(folder: Path) -> list[dict[str, Any]]:
    """Return what was put into each test frame and what is measured on it; kept beside the frames."""
    kept = folder / "measured.json"
    known: dict[str, Any] = json.loads(kept.read_text()) if kept.exists() else {}
    frames = [frame for frame in json.loads((folder / "frames.json").read_text()) if frame["scene"] in TEST_SCENES]
    for frame in frames:
        if frame["file"] not in known and frame["iso"] <= MOST_ISO:
            half = read_pixels(folder / frame["file"], "jpeg", reduced=2)
            first = first_look(half.grey, half.scale)
            second = None
            if needs_second_look(first):
                full = read_pixels(folder / frame["file"], "jpeg")
                second = second_look(full.grey, full.scale, first)
            known[frame["file"]] = {**vars(measure(first, second)), "twice": second is not None}
    kept.write_text(json.dumps(known))
    return [{**frame, "found": known[frame["file"]]} for frame in frames if frame["file"] in known]


def share(frames: list[dict[str, Any]], is_so: Callable[[dict[str, Any]], bool]) -> str:
    """Return a share with its count, in words."""
    hits = sum(is_so(frame) for frame in frames)
    return f"{hits / len(frames):.3f} ({hits} of {len(frames)})" if frames else "none"


def say_kinds(frames: list[dict[str, Any]]) -> None:
    """Print the rows of the table about the kind of blur."""
    clear = [f for f in frames if f["kind"] != "moved" and not 0 < f["size_px"] < 7.5]
    answered = [f for f in clear if f["found"]["kind"] not in ("unknown", "subject-moved")]
    sharp = [f for f in clear if f["kind"] == "sharp"]
    blurred = [f for f in clear if f["kind"] != "sharp"]
    called = [f for f in blurred if f["found"]["kind"] in ("shake", "missed-focus")]

    def is_blurred(frame: dict[str, Any]) -> bool:
        return frame["found"]["kind"] in ("shake", "missed-focus")

    print("answered (>= .80)", share(clear, lambda f: f["found"]["kind"] != "unknown"))
    print("wrong among answers (<= .05)", share(answered, lambda f: f["found"]["kind"] != TRUTH[f["kind"]]))
    print(
        "sharp called blurred, >= 15 % in focus (<= .03)",
        share([f for f in sharp if f["in_focus"] >= 0.15], is_blurred),
    )
    print("sharp called blurred, all of them", share(sharp, is_blurred))
    print("sharp called blurred, 4 % in focus (<= .10)", share([f for f in sharp if f["in_focus"] < 0.05], is_blurred))
    print("blur called sharp (<= .01)", share(blurred, lambda f: f["found"]["kind"] == "sharp"))
    print("shake or focus right (>= .93)", share(called, lambda f: f["found"]["kind"] == TRUTH[f["kind"]]))
    moved = [f for f in frames if f["kind"] == "moved"]
    print("moving subject found", share(moved, lambda f: f["found"]["kind"] == "subject-moved"))
    print("moving subject claimed of a sharp frame", share(sharp, lambda f: f["found"]["kind"] == "subject-moved"))
    print("needed the full size", share(frames, lambda f: f["found"]["twice"]))
    for low, high in ((0.7, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 1.01)):
        here = [f for f in answered if low <= f["found"]["confidence"] < high]
        print(f"  said with {low}-{high}: right", share(here, lambda f: f["found"]["kind"] == TRUTH[f["kind"]]))


def say_traces(frames: list[dict[str, Any]]) -> None:
    """Print the rows about direction and length of near-straight shake."""
    straight = [f for f in frames if f["shape"] == "linear" and f["kind"] == "shake" and f["size_px"] >= 8]
    given = [f for f in straight if np.isfinite(f["found"]["direction_deg"])]
    off = [abs((f["found"]["direction_deg"] - f["direction_deg"] + 90) % 180 - 90) for f in given]
    long = [f for f in straight if np.isfinite(f["found"]["length_px"])]
    wrong = [abs(f["found"]["length_px"] / f["size_px"] - 1) for f in long]
    print(f"direction given {len(given)} of {len(straight)}: median off (<= 5 deg) {np.median(off):.1f}")
    print(f"length given {len(long)}: median off (<= .15) {np.median(wrong):.3f}")
    short = [f for f in frames if f["kind"] == "shake" and f["size_px"] < 6]
    print("direction given below 6 px (none)", share(short, lambda f: bool(np.isfinite(f["found"]["direction_deg"]))))


def say_bursts(frames: list[dict[str, Any]]) -> None:
    """Print how often the sharpest of a burst is picked: one sharp frame, three blurred by at least 8 px."""
    random, hits, tries = np.random.default_rng(1), 0, 0
    views = sorted({(f["scene"], f["variant"]) for f in frames})
    for scene, variant in views:
        here = [f for f in frames if (f["scene"], f["variant"]) == (scene, variant) and f["in_focus"] == 1]
        sharp = [f for f in here if f["kind"] == "sharp"]
        soft = [f for f in here if f["kind"] in ("shake", "defocus") and f["size_px"] >= 8]
        for one in sharp:
            for _ in range(5):
                rest = random.choice(np.array(soft, object), min(3, len(soft)), replace=False)
                edges = [f["found"]["raw_edges"] for f in (one, *rest)]
                if np.isfinite(edges).all():
                    hits, tries = hits + int(np.argmax(edges) == 0), tries + 1
    print(f"best of a burst (>= .98) {hits / tries:.3f} ({hits} of {tries})")


def _view(grey: NDArray[np.uint8], focal_px: float, far_px: float, turn: NDArray[np.float64]) -> NDArray[np.uint8]:
    width, height = 1600, 1067
    far = np.array([[far_px, 0, (grey.shape[1] - 1) / 2], [0, far_px, (grey.shape[0] - 1) / 2], [0, 0, 1]])
    near = np.array([[focal_px, 0, (width - 1) / 2], [0, focal_px, (height - 1) / 2], [0, 0, 1]])
    seen = cv2.warpPerspective(grey, near @ turn @ np.linalg.inv(far), (width, height), flags=cv2.INTER_AREA)
    return np.asarray(seen, np.uint8)


def as_taken(picture: NDArray[np.uint8], random: np.random.Generator) -> NDArray[np.uint8]:
    """Return a view with its own exposure, blur, noise and JPEG."""
    soft = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), random.uniform(0.4, 2.5))
    lit = 255 * (soft / 255) ** random.uniform(0.75, 1.3) + random.normal(0, random.uniform(0.5, 5), soft.shape)
    coded = cv2.imencode(".jpg", np.clip(lit, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 88])[1]
    return np.asarray(cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE), np.uint8)


def say_focal_ratios() -> None:
    """Print the rows about focal ratios: turned pinhole views of the test photographs, and pairs without overlap."""
    random, seen, rows = np.random.default_rng(2), {}, []
    for scene in TEST_SCENES:
        grey = np.asarray(cv2.imread(str(scene_path(scene)), cv2.IMREAD_GRAYSCALE), np.uint8)
        scale = 3200 / grey.shape[1]
        grey = np.asarray(cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8)
        focal = 1600 * random.uniform(0.8, 1.4)
        wide = landmarks(as_taken(_view(grey, focal, 2 * focal, np.eye(3)), random))
        seen[scene] = wide
        for ratio in (1.0, 1.0, 1.2, 1.4, 1.7, 2.0, 2.5, 4.0):
            reach = 0.3 * (1 - 1 / ratio) + 0.05
            parts = [
                np.array([random.uniform(-reach, reach) * 0.5, 0, 0.0]),
                np.array([0, random.uniform(-reach, reach) * 0.6, 0.0]),
            ]
            turn = (
                cv2.Rodrigues(parts[0])[0]
                @ cv2.Rodrigues(parts[1])[0]
                @ cv2.Rodrigues(np.array([0, 0, random.normal(0, 0.05)]))[0]
            )
            long = landmarks(as_taken(_view(grey, focal * ratio, 2 * focal, turn), random))
            rows.append((ratio, focal_ratio(wide, long)))
    told = [(ratio, found) for ratio, found in rows if np.isfinite(found.ratio)]
    off = np.array([abs(found.ratio / ratio - 1) for ratio, found in told])
    median, most = np.percentile(off, [50, 95])
    print(f"ratio off: median (<= .015) {median:.4f}, 95 % (<= .05) {most:.4f}, largest {off.max():.3f}")
    print("inside the interval", np.mean([found.low <= ratio <= found.high for ratio, found in told]).round(3))
    for low, high, target in ((1.0, 1.4, 0.90), (1.7, 2.5, 0.75), (4.0, 4.0, 0.55)):
        here = [found for ratio, found in rows if low <= ratio <= high]
        print(
            f"answered, ratio {low}-{high} (>= {target})",
            np.mean([np.isfinite(found.ratio) for found in here]).round(3),
        )
    print("true 1.0 called another", sum(found.verdict == "another" for ratio, found in rows if ratio == 1.0))
    scenes = list(seen)
    apart = [focal_ratio(seen[a], seen[b]) for i, a in enumerate(scenes) for b in scenes[i + 1 :]]
    print(f"accepted without overlap (<= .001): {sum(np.isfinite(found.ratio) for found in apart)} of {len(apart)}")


def main(folder: Path) -> None:
    """Print the table."""
    frames = measured(folder)
    say_kinds(frames)
    say_traces(frames)
    say_bursts(frames)
    say_focal_ratios()


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(Path(sys.argv[1]))
