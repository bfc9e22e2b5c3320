"""Like with like."""

from __future__ import annotations

import math

import numpy as np
import pytest
from statsmodels.stats.contingency_tables import StratifiedTable

from auditor.stats.standardisation import directly_standardised, mantel_haenszel, observed_over_expected

# Charig et al. 1986, by Julious and Mullee 1994 "Confounding and Simpson's paradox": small and large stones.
OPEN_SURGERY = ([81, 192], [87, 263])
THROUGH_THE_SKIN = ([234, 55], [270, 80])
BOTH = [357, 343]


@pytest.mark.published
def test_crude_rates():
    # Printed as 78 % and 83 %.
    crude = [sum(kept) / sum(judged) for kept, judged in (OPEN_SURGERY, THROUGH_THE_SKIN)]
    assert crude == pytest.approx([0.7800, 0.8257], abs=5e-4)
    assert [round(100 * rate) for rate in crude] == [78, 83]


def test_standardised_rates_turn_the_order_round():
    first = directly_standardised(*OPEN_SURGERY, BOTH)
    second = directly_standardised(*THROUGH_THE_SKIN, BOTH)
    assert [first.rate, second.rate, first.rate - second.rate] == pytest.approx([0.8325, 0.7789, 0.0537], abs=5e-4)
    assert first.covered == 1.0


def test_odds_ratio_and_its_interval():
    # Computed with statsmodels StratifiedTable; 1.45 (0.92-2.29).
    crude = (273 / 77) / (289 / 61)
    assert crude == pytest.approx(0.7483, abs=1e-3)
    found = mantel_haenszel(OPEN_SURGERY, THROUGH_THE_SKIN)
    assert [found.ratio, found.low, found.high] == pytest.approx([1.4468, 0.9158, 2.2858], abs=1e-3)


def test_odds_ratio_against_statsmodels():
    rng = np.random.default_rng(3)
    n1, n2 = rng.integers(5, 60, 6), rng.integers(5, 60, 6)
    x1, x2 = rng.binomial(n1, 0.6), rng.binomial(n2, 0.5)
    tables = [np.array([[a, n - a], [c, m - c]]) for a, n, c, m in zip(x1, n1, x2, n2, strict=True)]
    reference = StratifiedTable(tables)
    found = mantel_haenszel((x1, n1), (x2, n2), 0.9)
    assert found.ratio == pytest.approx(reference.oddsratio_pooled, rel=1e-9)
    assert (found.low, found.high) == pytest.approx(reference.oddsratio_pooled_confint(alpha=0.1), rel=1e-6)


@pytest.mark.published
def test_age_adjusted_rates():
    # Exercise printed at wizedu.com/questions/842540 (US 1992 standard; rates a thousand; expected sums 2306658219
    # and 1972548533 over 260423572): Indiana 8.8573, Alaska 7.5744.
    standard = [57421054, 118956356, 50888153, 33158009]
    indiana, alaska = np.array([0.92, 1.31, 7.28, 52.10]), np.array([0.96, 1.85, 6.19, 41.69])
    for rates, adjusted, expected in ((indiana, 8.8573, 2306658219), (alaska, 7.5744, 1972548533)):
        found = directly_standardised(rates, np.full(4, 1000.0), standard).rate
        assert 1000 * found == pytest.approx(adjusted, abs=0.002)
        assert 1000 * found * sum(standard) == pytest.approx(expected, abs=1.0)


# Made up: lens A used in the dark, no lens effect. Bands easy, middle, hard.
LENS_A = ([18, 30, 12], [20, 60, 120])
LENS_B = ([108, 30, 2], [120, 60, 20])


def test_a_lens_used_in_the_dark_is_not_a_soft_lens():
    mix = np.array(LENS_A[1]) + np.array(LENS_B[1])
    assert [sum(lens[0]) / sum(lens[1]) for lens in (LENS_A, LENS_B)] == pytest.approx([0.3, 0.7])
    assert directly_standardised(*LENS_A, mix).rate == pytest.approx(0.5, abs=1e-9)
    assert directly_standardised(*LENS_B, mix).rate == pytest.approx(0.5, abs=1e-9)
    assert mantel_haenszel(LENS_A, LENS_B).ratio == pytest.approx(1.0, abs=1e-9)


def test_observed_over_expected():
    # Exact Poisson, 60 of 60 expected: 1.00 (0.7631-1.2872) (computed).
    rates = (np.array(LENS_A[0]) + LENS_B[0]) / (np.array(LENS_A[1]) + LENS_B[1])
    assert observed_over_expected(*LENS_A, rates) == pytest.approx((1.0, 0.7631, 1.2872), abs=1e-3)
    assert observed_over_expected([0], [10], [0.2])[:2] == (0.0, 0.0)
    assert all(math.isnan(x) for x in observed_over_expected([0], [0], [0.2]))


def test_strata_without_trials_are_left_out_and_said():
    found = directly_standardised([5, 0], [10, 0], [1, 3])
    assert found.rate == pytest.approx(0.5)
    assert found.covered == pytest.approx(0.25)
    assert found.error == pytest.approx(math.sqrt(0.25 / 10))
    nothing = directly_standardised([0], [0], [1])
    assert math.isnan(nothing.rate)
    assert nothing.covered == 0.0


def test_no_overlap_no_odds_ratio():
    assert math.isnan(mantel_haenszel(([5, 0], [10, 0]), ([0, 5], [0, 10])).ratio)
