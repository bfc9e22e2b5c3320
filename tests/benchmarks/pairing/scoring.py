"""Marks of the sequence model on simulated archives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.audit.evidence import add_evidence
from auditor.audit.questions import add_answers
from auditor.audit.sequence.pairings import pair_frames
from auditor.audit.trips import add_trip
from auditor.model.answers import Answer
from auditor.model.settings import Clock, Settings
from tests.benchmarks.pairing.photographer import World


@dataclass(frozen=True)
class Marks:
    """Frames of one archive with what was inferred and what is true."""

    table: pd.DataFrame

    @property
    def right(self) -> pd.Series:
        """Whether lens and adapter were told, or not known where the kit does not name the lens."""
        told = (self.table["lens"] == self.table["true_lens"]) & (self.table["adapter"] == self.table["true_adapter"])
        return told | (self.table["lens"].isna() & self.table["true_lens"].isna())

    @property
    def accuracy(self) -> float:
        return float(self.right.mean())

    def precision_recall(self) -> tuple[int, int, int]:
        """Frames called wrong and wrong; called wrong; wrong."""
        called, wrong = self.table["called_wrong"], self.table["true_wrong"].astype(bool)
        return int((called & wrong).sum()), int(called.sum()), int(wrong.sum())

    def strangers(self) -> tuple[int, float, float]:
        """Frames whose lens the kit does not name; the share of them left unknown, and the share called wrong."""
        own = self.table.loc[self.table["true_lens"].isna()]
        return len(own), float(own["lens"].isna().mean()), float(own["called_wrong"].mean())

    def causes(self) -> tuple[int, int]:
        """Wrong-setting runs found, and those of them whose cause was named right (most of the run's frames)."""
        found = self.table.loc[self.table["called_wrong"] & self.table["true_wrong"].astype(bool)]
        runs = found.groupby("true_run")
        named = runs["likely_cause"].agg(lambda causes: causes.mode().iloc[0] if causes.notna().any() else None)
        return len(named), int((named == runs["true_cause"].first()).sum())


def infer(world: World, *, clocks: Sequence[Clock] = (), answers: Sequence[Answer] = (), learn: bool = True) -> Marks:
    """Run the model over an archive and set the truth beside its answers."""
    settings = Settings(clocks=tuple(clocks))
    settings = settings.model_copy(update={"habits": settings.habits.model_copy(update={"learn": learn})})
    evidence = add_trip(add_evidence(world.frames, world.kit, world.log, settings), settings.trips)
    told = add_answers(evidence, answers)
    frames = pair_frames(told, world.kit, world.log, settings, overlaps=world.overlaps).frames
    table = frames.merge(world.truth, on="path", validate="one_to_one")
    return Marks(table.assign(called_wrong=table["likely_cause"].notna()))


def reliability(confidence: np.ndarray, right: np.ndarray) -> pd.DataFrame:
    """Frames, mean confidence and share right, by tenths of confidence."""
    tenth = np.minimum((confidence * 10).astype(int), 9)
    rows = pd.DataFrame({"tenth": tenth, "confidence": confidence, "right": right})
    return rows.groupby("tenth").agg(
        frames=("right", "size"), confidence=("confidence", "mean"), right=("right", "mean")
    )


def calibration_error(confidence: np.ndarray, right: np.ndarray) -> float:
    """Expected calibration error: mean over frames of |share right - mean confidence| of their tenth."""
    table = reliability(confidence, right)
    return float(((table["right"] - table["confidence"]).abs() * table["frames"]).sum() / table["frames"].sum())
