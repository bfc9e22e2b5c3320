"""
What could be found at all in the simulated archives. Run by hand::

    python -m tests.benchmarks.pairing.attainable [--first 100]

Three readers of the same archives: the program; an oracle that is told the photographer's true habits (how he forgets,
slips and notes, how much of each trip he noted, which lenses he likes, how likely a change is after each pause) and
infers with them; and one that is told every lens. What the oracle misses leaves too little trace: the evidence is
explained as well or better by a history in which those settings were right. What lies between it and the program is the
program's; what the last misses is the verdict's. ``recall`` is at the asked precision, wherever the threshold must be.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from unittest.mock import patch

import numpy as np
import pandas as pd
from scipy import stats

from auditor.audit.sequence.assemble import BodySequences, sequence_rows
from auditor.audit.sequence.learning import Learnt
from auditor.audit.sequence.pairings import CAUSE_COLUMNS
from auditor.model.answers import Answer
from auditor.model.pairings import kit_pairings
from auditor.model.settings import Habits as ModelHabits
from tests.benchmarks.pairing.photographer import World
from tests.benchmarks.pairing.run import worlds
from tests.benchmarks.pairing.scoring import infer

ASKED = {1.0: 0.97, 0.75: 0.93, 0.4: 0.85}
READERS = ("the program", "told the habits", "told every lens")


def _true_habits(world: World, prior: ModelHabits) -> ModelHabits:
    """Translate his habits into the model's words; mending is counted, since he mends by the stay, not by the pause."""
    habits = world.habits
    table = world.frames.merge(world.truth, on="path").sort_values("captured_at", kind="stable")
    pairing = table["true_lens"] + table["true_adapter"]
    stays = (pairing == pairing.shift(-1)) & table["true_wrong"].astype(bool)
    stays &= (table["captured_at"].shift(-1) - table["captured_at"]).dt.total_seconds() >= 8
    mended = stays & (table["focal_length_mm"] != table["focal_length_mm"].shift(-1))
    return prior.model_copy(
        update={
            "forgets": habits.forgets, "factor_left_out": habits.factor_left_out,
            "equivalent_entered": habits.equivalent, "long_end_of_zoom": habits.long_end,
            "digit_slip": max(habits.digit_slip, 1e-4), "odd_value": habits.odd_value,
            "mends": max(float(mended.sum() / max(stays.sum(), 1)), 1e-3), "retypes": 1e-4, "zoom_turns": 1e-3,
            "log_error_s": 0.66 * habits.time_error_s, "log_late_s": habits.late_s, "log_misnames": 1e-3,
        }
    )  # fmt: skip


def _liked(world: World, seed: int) -> dict[tuple[str, str], float]:
    """Return his liking of each pairing, drawn as `make_world` draws it."""
    ways = [pairing for pairing in kit_pairings(world.kit) if pairing.body.id == world.kit.bodies[0].id]
    drawn = np.random.default_rng([seed, 17]).dirichlet(np.full(len(ways), 1.5))
    return dict(zip([(way.lens.id, way.adapter_id) for way in ways], drawn, strict=True))


def _noted_share(world: World, body: BodySequences) -> np.ndarray:
    """Share of the changes of each trip that he noted, needless rows aside."""
    table = world.frames.merge(world.truth, on="path").sort_values("captured_at", kind="stable")
    at_s = table["captured_at"].to_numpy("datetime64[us]").astype(np.int64) / 1e6
    pairing = (table["true_lens"] + table["true_adapter"]).to_numpy(str)
    owner, shares = sequence_rows(body.timeline, body.notes), []
    for number in range(int(body.timeline.sequence[-1]) + 1):
        own = body.timeline.sequence == number
        within = (at_s >= body.timeline.begin_s[own].min()) & (at_s <= body.timeline.end_s[own].max())
        changes = 1 + int((pairing[within][1:] != pairing[within][:-1]).sum())
        shares.append((owner == number).sum() / (1 + world.habits.needless_rows) / changes)
    return np.clip(shares, 0.02, 0.98)


def _true_odds(world: World) -> Callable[[np.ndarray, ModelHabits], np.ndarray]:
    """Chance of a change after a pause, from the pauses that `photographer` draws with a change and without one."""
    habits = world.habits
    grid = np.geomspace(0.05, 40_000, 2000)
    handling = stats.gamma(4, scale=habits.change_s / 4)
    takes = handling.ppf((np.arange(300) + 0.5) / 300)
    walked = np.array([np.where(pause > takes, np.exp(-(pause - takes) / 240) / 240, 0.0).mean() for pause in grid])
    changing = 0.7 * handling.pdf(grid) + 0.3 * walked
    staying = 0.98 * stats.lognorm(1.1, scale=habits.pace_s).pdf(grid) + 0.02 * stats.uniform(600, 4800).pdf(grid)
    staying = (1 - habits.burst) * staying + habits.burst * stats.uniform(0.15, 1.35).pdf(grid)
    often = 1 / habits.frames_a_stay
    chance = often * changing / np.maximum(often * changing + (1 - often) * staying, 1e-300)
    chance[grid > 5400] = 2 * often  # nights, which tell nothing

    def odds(pause_s: np.ndarray, _: ModelHabits) -> np.ndarray:
        known = np.log(np.maximum(np.nan_to_num(pause_s, nan=10.0), 0.06))
        return np.clip(np.interp(known, np.log(grid), chance), 1e-9, 1 - 1e-9)

    return odds


@contextmanager
def _told_habits(world: World, seed: int) -> Iterator[None]:
    """Let the model know what it would otherwise learn, and for once not have to guess the shape of a pause."""

    def know(bodies: Sequence[BodySequences], habits: ModelHabits) -> Learnt:
        liked = _liked(world, seed)
        likings = []
        for body in bodies:
            chance = np.array([liked[p.lens.id, p.adapter_id] if p else 1e-6 for p in body.states.pairings])
            likings.append(chance / chance.sum())
        return Learnt(_true_habits(world, habits), likings, [_noted_share(world, body) for body in bodies])

    with ExitStack() as stack:
        stack.enter_context(patch("auditor.audit.sequence.pairings.learn_habits", know))
        stack.enter_context(patch("auditor.audit.sequence.assemble.change_odds", _true_odds(world)))
        yield


def _every_lens(world: World) -> list[Answer]:
    """Answer for every stay what was on."""
    table = world.frames.merge(world.truth, on="path").sort_values("captured_at", kind="stable")
    pairing = table["true_lens"] + "|" + table["true_adapter"]
    return [
        Answer(
            stay["captured_at"].iloc[0].to_pydatetime(warn=False),
            stay["captured_at"].iloc[-1].to_pydatetime(warn=False),
            world.kit.bodies[0].id, stay["true_lens"].iloc[0], stay["true_adapter"].iloc[0],
        )
        for _, stay in table.groupby((pairing != pairing.shift()).cumsum())
    ]  # fmt: skip


def read_by(reader: str, world: World, seed: int) -> pd.DataFrame:
    """Return the frames as one of READERS sees them, with the truth."""
    if reader == "told the habits":
        with _told_habits(world, seed):
            return infer(world).table
    return infer(world, answers=_every_lens(world) if reader == "told every lens" else ()).table


def recall_at(chance: np.ndarray, wrong: np.ndarray, precision: float) -> tuple[float, float]:
    """Largest recall of any threshold that keeps the precision, and that threshold."""
    order = np.argsort(-chance, kind="stable")
    right = np.cumsum(wrong[order])
    last_of_tie = np.append(np.diff(chance[order]) != 0, True)
    keeps = np.flatnonzero((right / np.arange(1, len(order) + 1) >= precision) & last_of_tie)
    return (float(right[keeps[-1]] / wrong.sum()), float(chance[order][keeps[-1]])) if len(keeps) else (0.0, 1.0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=12)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.seeds)
    pd.set_option("display.width", 200)
    for coverage, asked in ASKED.items():
        for reader in READERS:
            tables = [read_by(reader, w, seed) for seed, w in zip(seeds, worlds("plain", coverage, seeds), strict=True)]
            frames = pd.concat(tables, ignore_index=True)
            wrong = frames["true_wrong"].to_numpy(bool)
            chance = frames[list(CAUSE_COLUMNS.values())].sum(axis=1).to_numpy()
            recall, threshold = recall_at(chance, wrong, asked)
            right = (frames["lens"] == frames["true_lens"]) & (frames["adapter"] == frames["true_adapter"])
            row = {
                "log %": round(coverage * 100), "reader": reader, "lens and adapter": right.mean(),
                "precision asked": asked, "recall": recall, "threshold": threshold,
                "no trace": ((chance < 0.5) & wrong).sum() / wrong.sum(),
            }  # fmt: skip
            print(pd.DataFrame([row]).round(3).to_string(index=False), flush=True)


if __name__ == "__main__":
    main()
