"""
How often the intervals of a fitted hand hold the truth, over simulated photographers.

Run by hand: ``python -m tests.benchmarks.calibration.hand [runs]``. Prints, for each kind of archive and size, the
share of runs in which a parameter was called told, and of those the share whose 90 % interval held the truth.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from auditor.shake.estimates import HandPrior
from auditor.shake.fitting import fit_hand
from tests.benchmarks.calibration.photographers import CROP, RATED, Photographer, draw, shoot

ARCHIVES = {
    "20 % off, set right": {"off_share": 0.2, "setting_spread": 0.0},
    "all on, set right": {"off_share": 0.0, "setting_spread": 0.0},
    "all on, set wrong by 20 %": {"off_share": 0.0, "setting_spread": 0.2},
    "20 % off, set wrong by 20 %": {"off_share": 0.2, "setting_spread": 0.2},
}
NAMES = ("shake_mrad", "exponent", "stops", "stabilised_mrad", "other_keep", "spread_stops")


def truth_of(who: Photographer, name: str) -> float:
    if name == "stabilised_mrad":
        return who.shake_mrad * 2.0 ** (-who.exponent * who.stops)
    return float(getattr(who, name))


def main(runs: int) -> None:
    prior = HandPrior(stops=RATED - 1.0, crop=CROP)
    for title, archive in ARCHIVES.items():
        for frames in (300, 3000):
            rng = np.random.default_rng(20261124)
            told = dict.fromkeys(NAMES, 0)
            held = dict.fromkeys(NAMES, 0)
            anyway = dict.fromkeys(NAMES, 0)
            done, spent = 0, 0.0
            while done < runs:
                who = draw(rng)
                trials = shoot(who, frames, rng, bursts=True, **archive)
                if not 0.02 < trials.kept.mean() < 0.98:
                    continue
                start = time.perf_counter()
                fit = fit_hand(trials, prior)
                spent += time.perf_counter() - start
                done += 1
                for name in NAMES:
                    found = getattr(fit, name)
                    holds = found.low <= truth_of(who, name) <= found.high
                    told[name] += found.told
                    held[name] += found.told and holds
                    anyway[name] += holds
            print(f"\n{title}, {frames} frames, {runs} runs, {spent / runs:.2f} s a fit")
            for name in NAMES:
                share = f"{held[name] / told[name]:.0%}" if told[name] else "-"
                print(
                    f"  {name:16} told {told[name] / runs:4.0%}  held when told {share:>5}  "
                    f"held {anyway[name] / runs:.0%}"
                )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
