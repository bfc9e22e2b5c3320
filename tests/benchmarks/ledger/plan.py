"""
What the plan says of made-up lenses: ``python -m tests.benchmarks.ledger.plan [RUNS]``.

Four lenses that can stand in for each other; one of them has a fault, or none. Printed: how often each verdict is given
to that lens. Target: a lens whose only fault is wrong settings is never a candidate to sell.
"""

from __future__ import annotations

import sys
from collections import Counter

import numpy as np
import pandas as pd

from auditor.audit.planning import LensPlan, plan_lenses
from auditor.model.kit import Kit, parse_kit
from auditor.model.pairings import kit_pairings
from auditor.model.settings import Settings
from tests.benchmarks.ledger.archives import LENSES, Story, made

KIT_TEXT = """
[[bodies]]
id = "one"
name = "Silver body"
exif_model = "Silverline 2"
sensor_mm = [17.4, 13.0]
mount = "M42"
stabiliser_stops = 5.0
""" + "".join(
    f'[[lenses]]\nid = "{name}"\nname = "{name}"\nfocal_mm = 50\nmount = "M42"\nprice = 200.0\n' for name in LENSES
)

EVEN: dict[str, float] = {}
STORIES = {
    "wrong settings on one lens": Story(wrong={"hale-85": 0.7, "orla-50": 0.05}, harder=EVEN),
    "wrong settings, and in the dark": Story(wrong={"hale-85": 0.7, "orla-50": 0.05}),
    "wrong settings, few frames": Story(bursts=150, wrong={"hale-85": 0.7}),
    "wrong settings that cost all": Story(wrong={"hale-85": 0.8}, cost=2.0),
    "in the dark, no fault": Story(wrong=EVEN),
    "worse by a stop and a half": Story(effects={"hale-85": -1.2}, wrong=EVEN, harder=EVEN),
    "hardly used": Story(bursts=800, wrong=EVEN, shares={**dict.fromkeys(LENSES, 1.0), "hale-85": 0.12}),
}


def weighed(story: Story, seed: int) -> dict[str, LensPlan]:
    """Plan one archive, whose frames all have the same focal length, so that each lens can stand in for the others."""
    frames = made(story, seed).frames.assign(effective_focal_mm=50.0)
    frames["focal"] = pd.Categorical(np.full(len(frames), "50-70 mm"))
    # Twelve years, so that a lens with a handful of frames is hardly used and not merely new.
    frames["year"] = 2012.0 + 12.0 * frames["burst"] / frames["burst"].max()
    kit: Kit = parse_kit(KIT_TEXT)
    plans, _ = plan_lenses(frames, kit, kit_pairings(kit), Settings())
    return {one.lens: one for one in plans}


def main(runs: int) -> None:
    """Print a line a story."""
    for name, story in STORIES.items():
        said = Counter(weighed(story, 900_000 + run)["hale-85"].verdict for run in range(runs))
        print(f"{name:34}", ", ".join(f"{verdict} {count / runs:.1%}" for verdict, count in said.most_common()))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
