"""
Fit the rule that tells what was drawn out by its motion, and say what it finds on scenes it was not fitted on.

    python -m tests.benchmarks.vision.drawn_out FOLDER     (the folder that siblings.py filled)

Scores for the threshold and the calibration are of scenes left out one at a time. The threshold is the highest score
of a frame in which nothing moved, and a margin of 1 that was chosen with the other half's results in view. What is
read of the pictures is kept in FOLDER (``clues-….json``): remove it when the clues change.
"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from importlib.resources import files
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from auditor.audit.siblings import LEAST_ALIKE, MOST_ALIKE
from auditor.pipeline.looking import PixelFile
from auditor.pipeline.subjects import Beside, SiblingTask, subjects_of
from auditor.vision.change import change, reduced
from auditor.vision.changed_windows import CLUES, windows
from auditor.vision.drawn_out import Rule, together
from auditor.vision.likeness import likeness, small_picture
from tests.benchmarks.vision.moving import kind_of
from tests.benchmarks.vision.strangers import upper

Floats = NDArray[np.float64]
Read = dict[str, Any]
"""A pair with ``kind`` (of the frame alone), ``likeness`` and ``clues`` (one row a window)."""
NOTHING = -99.0
STIFFNESS, ALIKE_DEG, MARGIN = 5.0, 12.0, 1.0


def read_pair(folder: Path, pair: Read) -> Read:
    """Return a pair with what is read of it, just as the program reads it."""
    cv2.setNumThreads(1)
    frame, sibling = (np.fromfile(folder / pair[name], np.uint8) for name in ("frame", "sibling"))
    small = [np.asarray(cv2.imdecode(code, cv2.IMREAD_REDUCED_GRAYSCALE_4), np.uint8) for code in (frame, sibling)]
    found = change(*(reduced(one) for one in small))
    judged = windows(np.asarray(cv2.imdecode(frame, cv2.IMREAD_GRAYSCALE), np.uint8), found) if found else []
    return pair | {
        "kind": kind_of(frame),
        "likeness": likeness(*(small_picture(one) for one in small)),
        "clues": [window.clues.tolist() for window in judged],
        "directions": [window.direction_deg for window in judged],
    }


def read_half(folder: Path, name: str) -> list[Read]:
    """Return all pairs of one half, from what is kept if it is."""
    kept = folder / f"clues-{name}.json"
    if not kept.exists():
        pairs = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            kept.write_text(json.dumps(list(pool.map(partial(read_pair, folder), pairs, chunksize=8))), "utf-8")
    return list(json.loads(kept.read_text(encoding="utf-8")))


def is_compared(pair: Read) -> bool:
    """Tell whether the program would compare the two."""
    return LEAST_ALIKE <= pair["likeness"] <= MOST_ALIKE and pair["kind"] not in ("shake", "missed-focus")


def is_asked(pair: Read) -> bool:
    """Tell whether it would, and finds something to judge."""
    return is_compared(pair) and bool(pair["clues"])


def logistic(clues: Floats, moved: Floats, weight: Floats, stiffness: float) -> tuple[Floats, Floats, Floats]:
    """Return mean, spread and coefficients of a logistic rule with a weak normal prior."""
    mean, spread = clues.mean(axis=0), clues.std(axis=0) + 1e-9
    design = np.column_stack([np.ones(len(clues)), (clues - mean) / spread])

    def loss(beta: Floats) -> tuple[float, Floats]:
        odds = design @ beta
        value = (weight * (np.logaddexp(0, odds) - moved * odds)).sum() + stiffness * (beta[1:] ** 2).sum() / 2
        slope = design.T @ (weight * (1 / (1 + np.exp(-odds)) - moved))
        slope[1:] += stiffness * beta[1:]
        return float(value), slope

    return mean, spread, minimize(loss, np.zeros(design.shape[1]), jac=True, method="L-BFGS-B").x


def fitted(pairs: list[Read]) -> Rule:
    """
    Return the rule fitted on some pairs.

    Of a frame in which a subject moved those windows count that show its direction, of the others all; a frame with
    many windows counts more than one with few, but not in proportion.
    """
    rows, moved, weight = [], [], []
    for pair in filter(is_asked, pairs):
        clues = np.array(pair["clues"], np.float64)
        if pair["moved"]:
            clues = clues[[apart(one, pair["direction_deg"]) < ALIKE_DEG for one in pair["directions"]]]
        rows.append(clues)
        moved += [float(pair["moved"])] * len(clues)
        weight += [max(len(clues), 1) ** -0.5] * len(clues)
    return Rule(*logistic(np.vstack(rows), np.array(moved), np.array(weight), STIFFNESS), (0.0, 1.0), 0.0)


def apart(one_deg: float, other_deg: float) -> float:
    return abs((one_deg - other_deg + 90) % 180 - 90)


def score(rule: Rule, pair: Read) -> float:
    """Return the score of a pair, as the program would."""
    if not is_asked(pair):
        return NOTHING
    return max(together([rule.score(np.array(one)) for one in pair["clues"]], pair["directions"]))


def left_out(pairs: list[Read]) -> list[float]:
    """Return each pair's score by the rule fitted on the other scenes."""
    rules = {scene: fitted([pair for pair in pairs if pair["scene"] != scene]) for scene in {p["scene"] for p in pairs}}
    return [score(rules[pair["scene"]], pair) for pair in pairs]


def calibrated(pairs: list[Read], scores: list[float]) -> tuple[float, float]:
    """Return constant and slope of the log-odds that a subject moved over the score, for as many moved as not."""
    told = [(one, float(pair["moved"])) for pair, one in zip(pairs, scores, strict=True) if one > NOTHING]
    at, moved = (np.array(column) for column in zip(*told, strict=True))
    weight = np.where(moved == 1, 0.5 / moved.mean(), 0.5 / (1 - moved.mean()))
    mean, spread, beta = logistic(at[:, None], moved, weight, 0.0)
    return float(beta[0] - beta[1] * mean[0] / spread[0]), float(beta[1] / spread[0])


def say(name: str, pairs: list[Read], scores: list[float], answer_from: float) -> None:
    """Print what is found and what is claimed, by what was put in."""
    told: dict[tuple[bool, str], list[bool]] = defaultdict(list)
    for pair, one in zip(pairs, scores, strict=True):
        told[not pair["moved"], pair["what"]].append(one >= answer_from)
    print(name)
    for (_, what), claims in sorted(told.items()):
        print(f"    {what}: {sum(claims)} of {len(claims)}")
    both = list(zip(pairs, scores, strict=True))
    large = [one for pair, one in both if is_large(pair)]
    went = [one for pair, one in both if is_large(pair) and pair["what"] != "on the spot"]
    still = [one for pair, one in both if not pair["moved"]]
    false = sum(one >= answer_from for one in still)
    alone = [pair["moved"] for pair in pairs if pair["kind"] == "subject-moved"]
    print(
        f"  at least 8 % and 12 px: {sum(one >= answer_from for one in large)} of {len(large)}, without those on the"
        f" spot {sum(one >= answer_from for one in went)} of {len(went)}; claimed of {false} of {len(still)} that did"
        f" not move (upper bound {upper(false, len(still)):.4f})\n  from the frame alone, which does not count: claimed"
        f" of {sum(alone)} of {len(pairs) - len(still)} that moved and of {len(alone) - sum(alone)} of {len(still)}",
        flush=True,
    )


def told_by_the_program(folder: Path, pair: Read) -> bool:
    """Tell whether the program's own comparison, with the sizes that it reads, says that a subject moved."""
    cv2.setNumThreads(1)
    frame, sibling = (_pixel_file(folder / pair[name]) for name in ("frame", "sibling"))
    return bool(subjects_of(SiblingTask((Beside(frame, sibling, ""),)))[0]["moved"])


def _pixel_file(place: Path) -> PixelFile:
    pixels = int(cv2.imread(str(place), cv2.IMREAD_GRAYSCALE).size)
    return PixelFile("", place.name, str(place), "jpeg", 0, 0, pixels)


def say_of_the_program(folder: Path, pairs: list[Read]) -> None:
    """Print what the program says of the pairs that it would compare."""
    asked = [pair for pair in pairs if is_compared(pair)]
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        told = [
            one
            for one, moved in zip(asked, pool.map(partial(told_by_the_program, folder), asked), strict=True)
            if moved
        ]
    large = sum(is_large(pair) and pair["what"] != "on the spot" for pair in told)
    false = [(pair["frame"], pair["what"]) for pair in told if not pair["moved"]]
    print(f"  by the program: {large} of the large ones, {sum(pair['moved'] for pair in told)} of all; false: {false}")


def is_large(pair: Read) -> bool:
    """Tell whether a subject that moved covers 8 % of the frame at least, and was drawn out by 12 px at least."""
    return bool(pair["moved"] and pair["share"] >= 0.08 and pair["length_px"] >= 12)


def main(folder: Path) -> None:
    """Fit, write the rule, and print what it does on both halves."""
    fit, test = read_half(folder, "fit"), read_half(folder, "test")
    scores = left_out(fit)
    highest = max(one for pair, one in zip(fit, scores, strict=True) if not pair["moved"])
    answer_from = round(highest + MARGIN, 2)
    rule, calibration = fitted(fit), calibrated(fit, scores)
    document = {
        "made_by": "python -m tests.benchmarks.vision.drawn_out",
        "scenes": sorted({pair["scene"] for pair in fit}),
        "clues": list(CLUES),
        "mean": [round(float(one), 5) for one in rule.mean],
        "spread": [round(float(one), 5) for one in rule.spread],
        "coefficients": [round(float(one), 5) for one in rule.coefficients],
        "calibration": [round(one, 4) for one in calibration],
        "answer_from": answer_from,
    }
    Path(str(files("auditor.vision") / "drawn_out.json")).write_text(json.dumps(document, indent=1) + "\n", "utf-8")
    print(dict(zip(CLUES, rule.coefficients[1:].round(2), strict=True)), "calibration", calibration, answer_from)
    say("fitted on, each scene by the rule of the others", fit, scores, answer_from)
    say("tested on", test, [score(rule, pair) for pair in test], answer_from)
    say_of_the_program(folder, test)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
