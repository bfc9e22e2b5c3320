"""
Marks of the sequence model on simulated photographers. Run by hand::

    python -m tests.benchmarks.pairing.run            # the table of the README
    python -m tests.benchmarks.pairing.run --seeds 6  # quicker

The model was set on seeds from 100 on; the marks are of seeds 0, 1, 2, … alone.
"""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Iterator

import numpy as np
import pandas as pd

from tests.benchmarks.pairing.asking import settled_by_questions
from tests.benchmarks.pairing.kits import make_kit
from tests.benchmarks.pairing.missing import with_lenses_missing
from tests.benchmarks.pairing.photographer import Habits, World, make_world
from tests.benchmarks.pairing.pixels import with_overlaps
from tests.benchmarks.pairing.scoring import Marks, calibration_error, infer, reliability

COVERAGES = (1.0, 0.75, 0.4, 0.0)


def worlds(kind: str, coverage: float, seeds: range) -> Iterator[World]:
    """Photographers of one kind: plain, pixels, two-bodies, list-names, careless, twins; N-missing: kit without N."""
    for seed in seeds:
        random = np.random.default_rng([seed, 5])
        habits = Habits.drawn(np.random.default_rng([seed, 6]))
        if kind == "careless":
            habits = dataclasses.replace(habits, misnoted=0.01, adapter_not_noted=0.03, position_noted=0.6)
        kit = make_kit(
            random,
            bodies=2 if kind == "two-bodies" else 1,
            recorded_in="lens-name" if kind == "list-names" else "focal-length",
            twins=kind == "twins",
        )
        world = make_world(seed, kit, coverage=coverage, habits=habits)
        if kind.endswith("-missing"):
            world = with_lenses_missing(world, seed, int(kind.removesuffix("-missing")))
        yield with_overlaps(world, seed) if kind == "pixels" else world


def line(kind: str, coverage: float, seeds: range) -> tuple[dict[str, object], Marks]:
    """One row of the table."""
    tables = [
        infer(world).table.assign(seed=seed) for seed, world in zip(seeds, worlds(kind, coverage, seeds), strict=True)
    ]
    together = pd.concat(tables, ignore_index=True)
    together["true_run"] = together["seed"].astype(str) + together["true_run"]
    marks = Marks(together)
    both, called, wrong = marks.precision_recall()
    runs, named = marks.causes()
    count, unknown, accused = marks.strangers()
    strangers = {"strangers": count, "left unknown": unknown, "accused": accused} if count else {}
    return {
        "worlds": kind,
        "log %": round(coverage * 100),
        "frames": len(together),
        "lens and adapter": marks.accuracy,
        "wrong": wrong / len(together),
        "precision": both / max(called, 1),
        "recall": both / max(wrong, 1),
        "calibration error": calibration_error(together["pairing_confidence"].to_numpy(), marks.right.to_numpy()),
        "cause named": named / max(runs, 1),
        "runs": runs,
        **strangers,
    }, marks


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=12)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument(
        "--kinds",
        nargs="+",
        default=["plain", "pixels", "two-bodies", "list-names", "twins", "careless", "1-missing", "3-missing"],
    )
    parser.add_argument("--coverages", nargs="+", type=float, default=COVERAGES)
    parser.add_argument("--questions", action="store_true")
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.seeds)
    pd.set_option("display.width", 200)
    lines = []
    for kind in options.kinds:
        for coverage in options.coverages:
            row, marks = line(kind, coverage, seeds)
            lines.append(row)
            print(pd.DataFrame([row]).round(3).to_string(index=False, header=len(lines) == 1), flush=True)
            if kind == "plain":
                table = reliability(marks.table["pairing_confidence"].to_numpy(), marks.right.to_numpy())
                print(table.round(3).to_string())
    if options.questions:
        for coverage in (0.75, 0.4, 0.0):
            print(settled_by_questions(worlds("plain", coverage, seeds), coverage).round(3).to_string(index=False))


if __name__ == "__main__":
    main()
