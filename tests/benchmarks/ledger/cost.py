"""
How often the interval of keepers lost holds them: ``python -m tests.benchmarks.ledger.cost [RUNS]``.

In a made-up archive it is known which failed frames the right setting would have kept. Printed: how often the interval
by one's own keeping holds their number, in all and for one lens, and the mean error of the estimate.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from auditor.audit.fair.cost import setting_cost
from auditor.audit.fair.keeping import fit_keeping
from auditor.audit.fair.trials import trials_of
from tests.benchmarks.ledger.archives import LENSES, Story, made

STORIES = {
    "a tenth wrong": Story(),
    "a third wrong": Story(wrong=dict.fromkeys(LENSES, 0.33)),
    "one lens mostly wrong": Story(wrong={"hale-85": 0.6, "orla-50": 0.1}),
    "wrong but harmless": Story(cost=0.0, wrong=dict.fromkeys(LENSES, 0.33)),
    "few frames": Story(bursts=150, wrong=dict.fromkeys(LENSES, 0.33)),
}


@dataclass(frozen=True)
class Held:
    """Shares of the runs whose interval holds the truth, mean truth and mean estimate."""

    in_all: float
    of_lens: float
    truth: float
    estimate: float


def held(story: Story, runs: int, seed: int = 2) -> Held:
    """Count in many archives."""
    hits, of_lens, truths, estimates = 0, 0, [], []
    for run in range(runs):
        archive = made(story, seed * 100_000 + run)
        frames = archive.frames
        trials = trials_of(frames)
        rows = setting_cost(frames, trials, fit_keeping(trials), by="lens", hand=(0.8, 0.5)).rows.set_index("id")
        lost = (
            (frames["setting_verdict"] == "too-long").to_numpy()
            & (frames["kept"] == 0).to_numpy()
            & archive.kept_if_right
        )
        for name, count in (("all", int(lost.sum())), ("hale-85", int(lost[(frames["lens"] == "hale-85")].sum()))):
            if name not in rows.index:
                continue
            inside = bool(rows.loc[name, "kept_low"] - 0.5 <= count <= rows.loc[name, "kept_high"] + 0.5)
            hits, of_lens = hits + (inside and name == "all"), of_lens + (inside and name != "all")
        truths.append(int(lost.sum()))
        estimates.append(float(rows.loc["all", "kept_lost"]))
    return Held(hits / runs, of_lens / runs, float(np.mean(truths)), float(np.mean(estimates)))


def main(runs: int) -> None:
    """Print a line a story."""
    print(f"{'story':28}{'all held':>10}{'lens held':>11}{'truth':>8}{'estimate':>10}")
    for name, story in STORIES.items():
        one = held(story, runs)
        print(f"{name:28}{one.in_all:10.1%}{one.of_lens:11.1%}{one.truth:8.1f}{one.estimate:10.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
