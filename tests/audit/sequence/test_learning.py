"""Habits learnt from simulated photographers whose habits are known, and marks no worse than a floor."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from auditor.audit.evidence import add_evidence
from auditor.audit.sequence.pairings import Paired, pair_frames
from auditor.audit.trips import add_trip
from auditor.model.settings import Settings
from tests.benchmarks.pairing.kits import make_kit
from tests.benchmarks.pairing.photographer import Habits, World, make_world
from tests.benchmarks.pairing.scoring import infer


def archive(seed: int, coverage: float, **habits: float) -> World:
    drawn = dataclasses.replace(Habits(), **habits)
    return make_world(seed, make_kit(np.random.default_rng(seed)), coverage=coverage, habits=drawn, frames=3000)


def learnt(world: World) -> Paired:
    settings = Settings()
    evidence = add_trip(add_evidence(world.frames, world.kit, world.log, settings), settings.trips)
    return pair_frames(evidence, world.kit, world.log, settings)


def test_who_forgets_more_is_found_to_forget_more() -> None:
    seldom, often = (learnt(archive(3, 1.0, forgets=share)).habits.forgets for share in (0.05, 0.4))
    assert seldom < 0.12
    assert often > 0.25


def test_how_much_of_the_log_was_kept_is_found() -> None:
    much, little = (learnt(archive(4, share)).habits.log_coverage for share in (0.95, 0.4))
    assert much > 0.85
    assert little < 0.6


def test_a_late_note_taker_is_found_to_be_late() -> None:
    late = learnt(archive(5, 1.0, late_s=90.0)).habits.log_late_s
    assert late == pytest.approx(90.0, abs=35.0)


def test_what_is_not_to_be_learnt_stays_as_written() -> None:
    world = archive(6, 1.0)
    settings = Settings()
    fixed = settings.model_copy(update={"habits": settings.habits.model_copy(update={"learn": False})})
    evidence = add_trip(add_evidence(world.frames, world.kit, world.log, fixed), fixed.trips)
    assert pair_frames(evidence, world.kit, world.log, fixed).habits == fixed.habits


def test_a_well_kept_log_gives_nearly_every_lens() -> None:
    assert infer(archive(7, 1.0)).accuracy > 0.95


def test_confidence_means_what_it_says_on_an_archive_it_was_not_set_on() -> None:
    marks = infer(archive(8, 0.6))
    confidence = marks.table["pairing_confidence"].to_numpy()
    assert marks.right.mean() == pytest.approx(confidence.mean(), abs=0.08)
