from __future__ import annotations

import numpy as np
import pytest

from auditor.stats.clustered_rates import correlation_beyond, group_correlations, group_design_effects


def beta_binomial(correlation: float, bursts: int, seed: int, rate: float = 0.6) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    strength = (1 - correlation) / correlation
    chance = rng.beta(rate * strength, (1 - rate) * strength, bursts)
    judged = rng.integers(1, 7, bursts)
    return rng.binomial(judged, chance), judged


@pytest.mark.parametrize("correlation", [0.1, 0.3, 0.6])
def test_the_correlation_of_beta_binomial_bursts_is_found(correlation: float) -> None:
    # Known by construction: the intraclass correlation of a beta-binomial is 1 / (alpha + beta + 1).
    kept, judged = beta_binomial(correlation, 6000, 1)
    by_group, of_all = group_correlations(kept, judged, np.arange(6000) % 2)
    assert of_all == pytest.approx(correlation, abs=0.03)
    assert by_group == pytest.approx([correlation] * 2, abs=0.05)


def test_independent_frames_are_not_alike_and_groups_of_other_rates_do_not_make_them_so() -> None:
    rng = np.random.default_rng(2)
    judged = np.full(4000, 4)
    group = np.arange(4000) % 2
    kept = rng.binomial(judged, np.where(group == 0, 0.2, 0.8))
    by_group, of_all = group_correlations(kept, judged, group)
    assert of_all < 0.02
    assert by_group.max() < 0.03


def test_bursts_that_are_alike_may_share_an_element() -> None:
    kept, judged, group = np.array([2, 2, 0, 1]), np.array([2, 2, 2, 3]), np.array([0, 0, 0, 1])
    once = group_correlations(kept, judged, group)
    shared = group_correlations(kept[1:], judged[1:], group[1:], alike=[2.0, 1.0, 1.0])
    assert shared[0] == pytest.approx(once[0])
    assert shared[1] == pytest.approx(once[1])
    effects = group_design_effects(judged, group, 0.5, 2)
    assert group_design_effects(judged[1:], group[1:], 0.5, 2, alike=[2, 1, 1]) == pytest.approx(effects)


def test_nothing_paired_tells_nothing() -> None:
    assert group_correlations([], [], np.zeros(0, int))[1] == 0.0
    by_group, of_all = group_correlations([1, 0], [1, 1], np.array([0, 0]))
    assert (by_group.tolist(), of_all) == ([0.0], 0.0)


@pytest.mark.published
def test_a_design_effect_is_kish_s() -> None:
    # Kish: 1 + (n - 1) rho; 100 frames in bursts of 5 with rho = 0.3 are worth 45.45 (standard).
    effect = group_design_effects([5.0] * 20, np.zeros(20, int), 0.3, 1)
    assert 100 / effect[0] == pytest.approx(45.45, abs=0.01)


def test_the_correlation_beyond_a_model_is_that_of_its_residuals() -> None:
    rng = np.random.default_rng(3)
    burst = np.repeat(np.arange(3000), 4)
    chance = np.repeat(rng.uniform(0.2, 0.8, 3000), 4)
    independent = (rng.random(12000) < chance).astype(float)
    assert correlation_beyond(independent, chance, burst) < 0.03
    together = (np.repeat(rng.random(3000), 4) < chance).astype(float)
    assert correlation_beyond(together, chance, burst) == pytest.approx(0.95)
    assert correlation_beyond([1.0, 0.0], [0.5, 0.5], np.array([0, 1])) == 0.0


def test_what_the_fit_bent_is_put_back() -> None:
    # One mean fitted to few bursts: residuals then sum to zero and look less alike than they are.
    found, bent = [], []
    for seed in range(300):
        kept, judged = beta_binomial(0.4, 12, seed)
        y = np.concatenate([np.r_[np.ones(k), np.zeros(n - k)] for k, n in zip(kept, judged, strict=True)])
        burst = np.repeat(np.arange(12), judged)
        mean = float(np.clip(y.mean(), 0.02, 0.98))
        chance = np.full(y.size, mean)
        root = np.full(y.size, (1.0 / (y.size * mean * (1 - mean))) ** 0.5)
        bent.append(correlation_beyond(y, chance, burst))
        found.append(correlation_beyond(y, chance, burst, [root]))
    assert np.mean(bent) < np.mean(found)
    assert abs(np.mean(found) - 0.4) < abs(np.mean(bent) - 0.4)
