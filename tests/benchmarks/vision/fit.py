"""
Fit the rules of ``auditor/vision/rules.json`` on simulated frames of the fitting scenes.

    python -m tests.benchmarks.vision.simulate FOLDER     (once; 1,800 frames)
    python -m tests.benchmarks.vision.fit FOLDER

Multinomial logistic regression with a ridge on the standardised features. Frames with a moving subject count as sharp
with a third of the weight (they are sharp somewhere), mild blur with half of it, since a photographer may call it
either. Prints what leave-some-scenes-out cross-validation gives, then writes the rules fitted on all fitting scenes.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

import auditor.vision
from auditor.vision.kind import ANSWER_FROM, FEATURES, KINDS, Rule, features, shares
from auditor.vision.looks import blocks_to_look_at, look
from tests.benchmarks.vision.scenes import FIT_SCENES, LEFT_OUT, MOST_ISO, SMALL_FIT_SCENES

KIND_OF = {"sharp": 0, "moved": 0, "shake": 1, "defocus": 2}
RIDGE = 1.0
FOLDS = 6


def collect(folder: Path, scenes: tuple[str, ...]) -> list[dict[str, Any]]:
    """Return what was put into each frame of some scenes and what both looks read; kept beside the frames."""
    kept = folder / "features.json"
    known: dict[str, Any] = json.loads(kept.read_text()) if kept.exists() else {}
    frames = [frame for frame in json.loads((folder / "frames.json").read_text()) if frame["scene"] in scenes]
    for frame in frames:
        if frame["file"] in known:
            continue
        half = look([cv2.imread(str(folder / frame["file"]), cv2.IMREAD_REDUCED_GRAYSCALE_2)], 2.0)
        picture = cv2.imread(str(folder / frame["file"]), cv2.IMREAD_GRAYSCALE)
        full = look(blocks_to_look_at(picture, half))
        known[frame["file"]] = [None if read is None else read.tolist() for read in (features(half), features(full))]
    kept.write_text(json.dumps(known))
    return [{**frame, "half": known[frame["file"]][0], "full": known[frame["file"]][1]} for frame in frames]


def matrix(frames: list[dict[str, Any]], which: str) -> NDArray[np.float64]:
    """Return the features of a rule, one row a frame; a row of NaN where a look read nothing."""
    nothing = [float("nan")] * len(FEATURES)
    return np.array([frame[which] or nothing for frame in frames], np.float64)


def weights(frames: list[dict[str, Any]]) -> NDArray[np.float64]:
    """Return how much each frame counts."""
    mild = np.array([0 < frame["size_px"] < 6.5 for frame in frames])
    moved = np.array([frame["kind"] == "moved" for frame in frames])
    return np.where(moved, 1 / 3, np.where(mild, 0.5, 1.0))


def fitted(table: NDArray[np.float64], kinds: NDArray[np.intp], weight: NDArray[np.float64]) -> Rule:
    """Return the rule that suits some frames best."""
    mean, spread = np.nanmean(table, axis=0), np.nanstd(table, axis=0)
    standard = np.clip(np.nan_to_num((table - mean) / spread), -4, 4)
    design = np.column_stack([np.ones(len(table)), standard])
    truth = np.eye(len(KINDS))[kinds]

    def loss(flat: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        coefficients = flat.reshape(design.shape[1], len(KINDS))
        score = design @ coefficients
        odds = np.exp(score - score.max(axis=1, keepdims=True))
        share = odds / odds.sum(axis=1, keepdims=True)
        slope = design.T @ (weight[:, None] * (share - truth))
        slope[1:] += RIDGE * coefficients[1:]
        cost = -(weight * np.log((share * truth).sum(axis=1) + 1e-12)).sum() + RIDGE * (coefficients[1:] ** 2).sum() / 2
        return float(cost), slope.ravel()

    best = minimize(loss, np.zeros(design.shape[1] * len(KINDS)), jac=True, method="L-BFGS-B")
    return Rule(mean, spread, best.x.reshape(design.shape[1], len(KINDS)))


def fit_rule(frames: list[dict[str, Any]], which: str) -> Rule:
    """Return one rule from frames that its looks could read."""
    table = matrix(frames, which)
    kinds = np.array([KIND_OF[frame["kind"]] for frame in frames])
    read = ~np.isnan(table).all(axis=1)
    return fitted(table[read], kinds[read], weights(frames)[read])


def cross_validated(frames: list[dict[str, Any]], which: str, scenes: tuple[str, ...]) -> str:
    """Return, in words, how a rule does on scenes it was not fitted on."""
    asked = answered = right = 0
    for fold in range(FOLDS):
        left_out = scenes[fold::FOLDS]
        rule = fit_rule([frame for frame in frames if frame["scene"] not in left_out], which)
        test = [frame for frame in frames if frame["scene"] in left_out and frame["kind"] != "moved"]
        test = [frame for frame in test if not 0 < frame["size_px"] < 6.5]
        for frame, read in zip(test, matrix(test, which), strict=True):
            asked += 1
            found = shares(rule, read) if not np.isnan(read).all() else np.full(3, 1 / 3)
            if found.max() >= ANSWER_FROM:
                answered += 1
                right += int(found.argmax() == KIND_OF[frame["kind"]])
    return f"{which}: {asked} frames without mild blur, answered {answered / asked:.3f}, right {right / answered:.3f}"


def main(folder: Path) -> None:
    """Fit and write the rules."""
    scenes = tuple(scene for scene in (*FIT_SCENES, *SMALL_FIT_SCENES) if scene not in LEFT_OUT)
    frames = [frame for frame in collect(folder, scenes) if frame["iso"] <= MOST_ISO]
    rules = {}
    for which in ("half", "full"):
        print(cross_validated(frames, which, scenes))
        rule = fit_rule(frames, which)
        rules[which] = {
            "mean": rule.mean.round(5).tolist(),
            "spread": rule.spread.round(5).tolist(),
            "coefficients": rule.coefficients.round(4).tolist(),
        }
    document = {
        "made_by": "tests/benchmarks/vision/fit.py",
        "scenes": list(scenes),
        "frames": len(frames),
        "features": list(FEATURES),
        "kinds": list(KINDS),
        "rules": rules,
    }
    place = Path(next(iter(auditor.vision.__path__))) / "rules.json"
    place.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main(Path(sys.argv[1]))
