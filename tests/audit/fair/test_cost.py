"""What wrong settings cost, where it is known which frames the right setting would have kept."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.fair.cost import setting_cost
from auditor.audit.fair.keeping import fit_keeping
from auditor.audit.fair.shaking import fit_shaking
from auditor.audit.fair.trials import trials_of
from auditor.shake.hand import sharp_probability
from tests.benchmarks.ledger.archives import Archive, Story, made
from tests.benchmarks.ledger.cost import held

HAND = (0.8, 0.5)


def cost_of(frames: pd.DataFrame, by: str = "lens") -> pd.DataFrame:
    trials = trials_of(frames)
    return setting_cost(frames, trials, fit_keeping(trials), by=by, hand=HAND).rows.set_index("id")


def shaken(seed: int, hand_stops: float = -1.0, stabiliser_stops: float = 0.0, share: float = 0.7) -> Archive:
    """Draw an archive in which frames are kept because they are sharp, by the shake model itself with another hand."""
    rng = np.random.default_rng(seed)
    archive = made(Story(bursts=1500, longest=1, wrong=dict.fromkeys(("orla-50", "hale-85"), 0.3)), seed)
    frames = archive.frames
    wrong = (frames["setting_verdict"] == "too-long").to_numpy()
    off = rng.random(len(frames)) < 0.25
    floor = np.where(off, 1.0, 2.0 ** (-0.8 * 4.0))
    missed = np.where(wrong & ~off, rng.uniform(0.2, 0.9, len(frames)), 0.0)
    frames = frames.assign(
        shake_um=2.0 ** rng.normal(6.0, 1.5, len(frames)),
        tolerated_um=14.0,
        residual=np.hypot(missed, floor),
        residual_floor=floor,
        is_stabilised=~off,
        setting_verdict=pd.Categorical(np.where(wrong & ~off, "too-long", "right")),
    )
    true_floor = np.where(off, 1.0, floor * 2.0 ** (-0.8 * stabiliser_stops))
    shake = frames["shake_um"].to_numpy() * 2.0**hand_stops
    as_set = share * np.asarray(sharp_probability(14.0, shake * np.hypot(missed, true_floor), 0.5))
    right = share * np.asarray(sharp_probability(14.0, shake * true_floor, 0.5))
    fate = rng.random(len(frames))
    return Archive(frames.assign(kept=(fate < as_set).astype(np.int8)), archive.chance, archive.lenses, fate < right)


def test_the_hand_and_the_share_kept_are_found() -> None:
    archive = shaken(1, hand_stops=-1.0, share=0.7)
    kept = archive.frames["kept"].to_numpy(np.float64)
    found = fit_shaking(archive.frames, kept, 1.0, hand=HAND)
    assert found.hand_stops == pytest.approx(-1.0, abs=0.35)
    assert found.stabiliser_stops == pytest.approx(0.0, abs=0.7)
    assert found.kept_if_sharp == pytest.approx(0.7, abs=0.06)


def test_the_shake_model_tells_how_many_the_right_setting_would_have_saved() -> None:
    # Twelve archives, seeded: of 95 % intervals fewer than 9 holding the truth would come about once in five hundred.
    held_by, truths, estimates = 0, [], []
    for seed in range(12):
        archive = shaken(20 + seed)
        lost = (archive.frames["kept"] == 0).to_numpy() & archive.kept_if_right
        truth = int((lost & (archive.frames["setting_verdict"] == "too-long").to_numpy()).sum())
        row = cost_of(archive.frames).loc["all"]
        held_by += bool(row["shake_low"] - 0.5 <= truth <= row["shake_high"] + 0.5)
        truths.append(truth)
        estimates.append(row["shake_lost"])
    assert held_by >= 9
    assert np.mean(estimates) == pytest.approx(np.mean(truths), rel=0.1)


def test_the_interval_by_keeping_holds_the_truth() -> None:
    # Twenty archives, seeded: of 95 % intervals fewer than 16 holding it would come about once in four hundred times
    # (binomial). The many runs are tests/benchmarks/ledger/cost.py.
    found = held(Story(bursts=400, wrong=dict.fromkeys(("orla-50", "hale-85", "hale-35", "bruna-135"), 0.33)), 20)
    assert found.in_all >= 16 / 20
    assert found.estimate == pytest.approx(found.truth, rel=0.15)


def test_nothing_wrong_costs_nothing() -> None:
    frames = made(Story(wrong={}), 3).frames
    rows = cost_of(frames)
    assert rows.index.tolist() == ["all"]
    assert rows.loc["all", ["wrong", "failed", "kept_lost"]].tolist() == [0, 0, 0]


def test_a_kept_frame_lost_nothing_and_no_more_is_lost_than_failed() -> None:
    rows = cost_of(made(Story(wrong={"orla-50": 0.5}), 4).frames, by="trip")
    assert (rows["kept_high"] <= rows["failed"] + 1e-9).all()
    assert (rows["kept_low"] >= 0).all()
    assert rows.loc["all", "wrong"] == rows["wrong"].iloc[:-1].sum()


def test_frames_without_a_right_partner_are_not_guessed_at() -> None:
    frames = made(Story(bursts=300, wrong={"orla-50": 1.0}), 5).frames
    frames["difficulty_stops"] = np.where(frames["lens"] == "orla-50", 12.0, frames["difficulty_stops"])
    rows = cost_of(frames)
    assert rows.loc["orla-50", "compared"] == 0
    assert np.isnan(rows.loc["orla-50", "kept_lost"])
    assert np.isnan(rows.loc["orla-50", "shake_lost"])  # nor is any shake known here


def test_frames_that_were_never_judged_are_counted_beside() -> None:
    frames = made(Story(wrong={"orla-50": 0.5}), 6).frames
    wrong = (frames["setting_verdict"] == "too-long").to_numpy()
    never = np.flatnonzero(wrong)[:7]
    frames.loc[never, "kept"] = -1
    trials = trials_of(frames)
    cost = setting_cost(frames, trials, fit_keeping(trials), by="cause", hand=HAND)
    assert (cost.not_judged, cost.judged_wrong) == (7, int(wrong.sum()) - 7)
    assert cost.rows["id"].tolist() == ["carried-over", "all"]


def test_the_setting_is_not_adjusted_for_when_it_is_what_is_asked_about() -> None:
    # Every frame of one class of stops lost is wrong: adjusting for the class would leave nothing to compare with.
    frames = made(Story(wrong={"orla-50": 0.5}), 7).frames
    assert cost_of(frames).loc["all", "compared"] > 0
