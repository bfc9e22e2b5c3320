from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from auditor.stats.assisted import AssistedRate, Outcomes, assisted_rate, rate_difference, rate_interval
from auditor.stats.intervals import wilson

# C. R. Charig et al., Br. Med. J. 292 (1986) 879-882, as in S. A. Julious and M. A. Mullee, Br. Med. J. 309 (1994)
# 1480-1481: successes of trials for small and for large stones, open surgery and the newer way.
OPEN, NEWER = ((81, 87), (192, 263)), ((234, 270), (55, 80))


def stones() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Success, size of stone and treatment (0 open, 1 newer) of each patient."""
    rows = [
        (done, size, way)
        for way, sizes in enumerate((OPEN, NEWER))
        for size, (success, trials) in enumerate(sizes)
        for done in [1.0] * success + [0.0] * (trials - success)
    ]
    table = np.array(rows)
    return table[:, 0], table[:, 1].astype(int), table[:, 2].astype(int)


@pytest.mark.published
@pytest.mark.parametrize("made_up", [0.3, 0.8])
def test_kidney_stones_come_out_as_published_whatever_the_model_says(made_up: float) -> None:
    kept, size, way = stones()
    assert kept[way == 0].mean() == pytest.approx(0.78, abs=0.005)  # printed: 78 %
    assert kept[way == 1].mean() == pytest.approx(0.83, abs=0.005)  # printed: 83 %
    expected = np.full(kept.size, made_up) + 0.1 * size  # a model of the stratum alone, and a wrong one
    outcomes = Outcomes(kept, expected, np.arange(kept.size))
    mix = (np.array([357, 343]) / 700, np.array([made_up, made_up + 0.1]))
    open_rate, newer = (assisted_rate(outcomes, way == one, size, expected=expected, mix=mix) for one in (0, 1))
    # Directly standardised to the patients of both: 83.3 % and 77.9 % (arithmetic on the printed strata).
    assert open_rate.rate == pytest.approx(0.8325, abs=5e-4)
    assert newer.rate == pytest.approx(0.7789, abs=5e-4)
    assert (open_rate.frames, newer.bursts) == (350, 350)
    assert rate_difference(open_rate, newer).difference == pytest.approx(0.0537, abs=5e-4)


def test_kidney_stones_are_not_shown_to_differ() -> None:
    # The Mantel-Haenszel odds ratio of the same table has the interval 0.92 to 2.29, which holds 1.
    kept, size, way = stones()
    expected = np.array([0.88, 0.72])[size]
    outcomes = Outcomes(kept, expected, np.arange(kept.size))
    mix = (np.array([357, 343]) / 700, np.array([0.88, 0.72]))
    rates = [assisted_rate(outcomes, way == one, size, expected=expected, mix=mix) for one in (0, 1)]
    found = rate_difference(*rates)
    assert found.low < 0 < found.high
    assert found.p_value > 0.05


def test_one_stratum_of_single_frames_has_the_binomial_error() -> None:
    kept = np.r_[np.ones(30), np.zeros(70)]
    outcomes = Outcomes(kept, np.full(100, 0.3), np.arange(100))
    rate = assisted_rate(outcomes, np.full(100, True), np.zeros(100, int), expected=outcomes.chance, mix=([1.0], [0.3]))
    assert rate.rate == pytest.approx(0.3)
    assert rate.error == pytest.approx((0.3 * 0.7 / 100) ** 0.5)
    assert rate.worth == pytest.approx(100, rel=0.02)
    low, high = rate_interval(rate)
    assert (low, high) == pytest.approx(wilson(30, 100), abs=0.004)


@pytest.mark.parametrize(("correlation", "effect"), [(0.0, 1.0), (0.5, 2.5), (1.0, 4.0)])
def test_bursts_of_four_widen_the_error_by_the_design_effect(correlation: float, effect: float) -> None:
    # 1 + (4 - 1) rho (Kish).
    kept, burst = np.tile([1.0, 0.0], 200), np.repeat(np.arange(100), 4)
    outcomes = Outcomes(kept, np.full(400, 0.5), burst, correlation)
    rate = assisted_rate(outcomes, np.full(400, True), np.zeros(400, int), expected=outcomes.chance, mix=([1.0], [0.5]))
    assert rate.error**2 / (0.25 / 400) == pytest.approx(effect)


def test_a_sure_model_leaves_some_doubt() -> None:
    outcomes = Outcomes(np.ones(10), np.ones(10), np.arange(10))
    rate = assisted_rate(outcomes, np.full(10, True), np.zeros(10, int), expected=outcomes.chance, mix=([1.0], [1.0]))
    low, high = rate_interval(rate)
    assert rate.rate == high == 1.0
    assert low < 0.95


def test_a_stratum_outside_the_mix_counts_for_nothing() -> None:
    kept, stratum = np.array([1.0, 1.0, 0.0, 0.0]), np.array([0, 0, 1, 1])
    outcomes = Outcomes(kept, np.full(4, 0.5), np.arange(4))
    rate = assisted_rate(outcomes, np.full(4, True), stratum, expected=outcomes.chance, mix=([1.0, 0.0], [0.5, 0.5]))
    assert rate.rate == 1.0


def test_the_p_value_is_the_normal_one_for_many_bursts_and_the_error_may_be_given() -> None:
    first, second = AssistedRate(0.6, 0.03, 10**6, 10**6), AssistedRate(0.5, 0.04, 10**6, 10**6)
    assert rate_difference(first, second).p_value == pytest.approx(2 * norm.sf(0.1 / 0.05), rel=1e-4)
    narrow = rate_difference(first, second, error=0.025)
    wide = rate_difference(first, second)
    assert narrow.p_value < wide.p_value
    assert (narrow.high - narrow.low) == pytest.approx((wide.high - wide.low) / 2)


def test_few_bursts_widen_the_interval() -> None:
    few, many = AssistedRate(0.5, 0.1, 25, 4), AssistedRate(0.5, 0.1, 25, 10**6)
    assert rate_interval(few)[0] < rate_interval(many)[0]
