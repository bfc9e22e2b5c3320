"""
How often the intervals hold the truth: ``python -m tests.benchmarks.ledger.coverage [RUNS]``.

Side by side, on made-up archives: the fair comparison and the crude one (each frame a trial, nothing adjusted).
Target: the fair intervals hold the truth in 93-97 % of 400 runs, false "worse" claims in at most 5 %.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from auditor.audit.fair.comparing import compare, compare_each
from auditor.audit.fair.trials import trials_of
from auditor.stats.differences import newcombe_difference
from tests.benchmarks.ledger.archives import LENSES, Story, made, truth

STORIES = {
    "no lens effect, bursts independent": Story(correlation=0.0),
    "no lens effect, bursts alike": Story(),
    "no lens effect, bursts very alike": Story(correlation=0.6),
    "one lens worse": Story(effects={"hale-85": -0.9}),
    "wrong settings on one lens": Story(wrong={"hale-85": 0.6, "orla-50": 0.1}),
    "few frames": Story(bursts=150),
}


@dataclass(frozen=True)
class Score:
    """Shares of the runs: interval holds the truth, fair and crude; a false worse or better lens among all."""

    fair: float
    crude: float
    false_worse: float
    false_any: float
    found: float
    runs: int


def score(story: Story, runs: int, seed: int = 1) -> Score:
    """Compare hale-85 with orla-50 in many archives; count the claims about all lenses."""
    fair, crude, worse, claimed, found, compared = 0, 0, 0, 0, 0, 0
    for run in range(runs):
        archive = made(story, seed * 100_000 + run)
        trials = trials_of(archive.frames)
        one = compare(trials, "hale-85", "orla-50")
        if one.difference is not None:
            compared += 1
            true = truth(archive, trials, "hale-85", "orla-50")
            fair += one.difference.low <= true <= one.difference.high
            counts = [(side.kept, side.judged) for side in one.crude]
            _, low, high = newcombe_difference(*counts)
            crude += bool(low <= true <= high)
        claims = {each.first: each.verdict for each in compare_each(trials)}
        innocent = [name for name in LENSES if not story.effects.get(name)]
        worse += any(claims.get(name) == "worse" for name in innocent)
        claimed += any(claims.get(name) in ("worse", "better") for name in innocent)
        found += any(claims.get(name) == "worse" for name in story.effects)
    return Score(fair / compared, crude / compared, worse / runs, claimed / runs, found / runs, compared)


def main(runs: int) -> None:
    """Print a line a story."""
    error = np.sqrt(0.95 * 0.05 / runs)
    print(f"{runs} runs each; the shares of 95 % are sure to about ±{2 * error:.1%}")
    print(f"{'story':40}{'fair':>8}{'crude':>8}{'false worse':>13}{'false any':>11}{'found':>8}{'compared':>10}")
    for name, story in STORIES.items():
        one = score(story, runs)
        print(
            f"{name:40}{one.fair:8.1%}{one.crude:8.1%}{one.false_worse:13.1%}{one.false_any:11.1%}{one.found:8.1%}"
            f"{one.runs:10}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
