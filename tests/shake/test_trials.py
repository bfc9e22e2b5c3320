"""Frames as trials."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.shake.trials import Trials, burst_weights, keeps_one_of_each_burst, residual_correlation, to_cells


def _trials(count: int, **columns) -> Trials:
    values = {
        "exposure_time_s": np.full(count, 1 / 60),
        "right_mm": np.full(count, 50.0),
        "tolerance_um": np.full(count, 14.4),
        "setting_error": np.zeros(count),
        "kept": np.ones(count, bool),
        "burst": np.arange(count),
    }
    return Trials(**{**values, **columns})


def test_cells_lose_no_frame():
    rng = np.random.default_rng(4)
    trials = _trials(
        500,
        exposure_time_s=rng.choice([1 / 60, 1 / 30, 1 / 15], 500),
        right_mm=rng.choice([25.0, 50.0], 500),
        setting_error=rng.choice([0.0, 0.1, np.nan], 500),
        kept=rng.random(500) < 0.4,
    )
    cells = to_cells(trials)
    assert len(cells.judged) == 3 * 2 * 3
    assert cells.judged.sum() == 500
    assert cells.kept.sum() == trials.kept.sum()
    assert np.isnan(cells.error).sum() == 6
    assert np.array_equal(np.isnan(cells.error[cells.of_frame]), np.isnan(trials.setting_error))
    assert np.exp(cells.log_time[cells.of_frame]) / 60 == pytest.approx(trials.exposure_time_s, rel=1e-9)


def test_weights_thin_the_cells():
    cells = to_cells(_trials(4), [1.0, 0.5, 0.5, 0.5])
    assert cells.judged.sum() == pytest.approx(2.5)


def test_some_frames():
    assert _trials(5).where(np.array([True, False, True, False, False])).count == 2


@pytest.mark.parametrize("truth", [0.0, 0.3, 0.7])
def test_correlation_of_a_burst_is_found_again(truth):
    # A frame of a burst takes the burst's common fate with probability √ρ: two of them agree with correlation ρ.
    rng = np.random.default_rng(9)
    burst = np.repeat(np.arange(5000), 4)
    common = (rng.random(5000) < 0.4)[burst]
    kept = np.where(rng.random(burst.size) < truth**0.5, common, rng.random(burst.size) < 0.4)
    assert residual_correlation(burst, kept, np.full(burst.size, 0.4)) == pytest.approx(truth, abs=0.03)


def test_without_bursts_there_is_no_correlation():
    assert residual_correlation(np.arange(10), np.arange(10) % 2 == 0, np.full(10, 0.5)) == 0.0


def test_weights_of_bursts():
    weights = burst_weights(np.array([7, 7, 7, 7, 7, 3]), 0.3)
    # Design effect 1 + 4 × 0.3 = 2.2 (standard).
    assert weights == pytest.approx([1 / 2.2] * 5 + [1.0])


def test_too_few_bursts_are_no_habit():
    burst = np.repeat(np.arange(5), 4)
    assert not keeps_one_of_each_burst(burst, np.arange(20) % 4 == 0)


def test_independent_judging_is_not_taken_for_a_cull():
    rng = np.random.default_rng(12)
    burst = np.repeat(np.arange(300), 4)
    wrong = [keeps_one_of_each_burst(burst, rng.random(1200) < rate) for rate in (0.1, 0.25, 0.5, 0.9)]
    assert not any(wrong)
