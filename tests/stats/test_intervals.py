"""Intervals of one and two proportions, against printed tables and statsmodels."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from auditor.stats.differences import newcombe_difference
from auditor.stats.intervals import agresti_coull, clopper_pearson, jeffreys, rule_of_three, wilson, wilson_continuity

# R. G. Newcombe, Two-sided confidence intervals for the single proportion, Stat. Med. 17 (1998) 857-872, Table I,
# methods 3 (score) and 5 (exact); cases 81/263 and 15/148 confirmed in R's propint documentation, limits from memory.
# Printed to 4 decimals, hence half a unit of the 4th (0.6 for the exact method).
NEWCOMBE_TABLE_I = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]


@pytest.mark.published
@pytest.mark.parametrize(("kept", "judged", "score", "exact"), NEWCOMBE_TABLE_I)
def test_newcombe_table_1(kept, judged, score, exact):
    assert wilson(kept, judged) == pytest.approx(score, abs=5e-5)
    assert clopper_pearson(kept, judged) == pytest.approx(exact, abs=6e-5)


@pytest.mark.published
def test_clopper_pearson_of_the_scipy_manual():
    # SciPy documentation, BinomTestResult.proportion_ci, 7 of 50.
    assert clopper_pearson(7, 50) == pytest.approx((0.05819170033997342, 0.26739600249700846), abs=1e-8)


@pytest.mark.published
def test_wilson_with_continuity_of_r():
    # R prop.test(340, 400), R-help 1 Feb 2007.
    assert wilson_continuity(340, 400) == pytest.approx((0.8103309, 0.8827749), abs=1e-6)


# 7 of 50 by three methods of Brown, Cai and DasGupta, Stat. Sci. 16(2):101-133 (2001); computed with statsmodels.
@pytest.mark.parametrize(
    ("interval", "ends"),
    [(wilson, (0.0695, 0.2619)), (agresti_coull, (0.0664, 0.2650)), (jeffreys, (0.0649, 0.2553))],
)
def test_seven_of_fifty(interval, ends):
    assert interval(7, 50) == pytest.approx(ends, abs=5e-5)


def test_jeffreys_with_no_success():
    # Brown, Cai and DasGupta (2001), lower end set to 0 (modification from memory).
    assert jeffreys(0, 20) == pytest.approx((0.0, 0.1166), abs=5e-5)


def test_rule_of_three():
    # 3/n against the exact one-sided 95 % end, 0 of 20: 0.1500 and 0.1391 (standard).
    assert rule_of_three(20) == pytest.approx(0.15, abs=1e-4)
    assert clopper_pearson(0, 20, 0.90)[1] == pytest.approx(0.1391, abs=1e-4)
    assert rule_of_three([2, 0]).tolist() == [1.0, 1.0]


@pytest.mark.published
def test_newcombe_difference_table_2():
    # R. G. Newcombe, Stat. Med. 17 (1998) 873-890, Table II (a): 56/70 - 48/80, 0.0524 to 0.3339.
    difference, low, high = newcombe_difference((56, 70), (48, 80))
    assert difference == pytest.approx(0.2, abs=1e-12)
    assert (low, high) == pytest.approx((0.0524, 0.3339), abs=5e-5)


GRID = [
    (kept, judged) for judged in (1, 2, 5, 20, 148, 1000) for kept in sorted({0, 1, judged // 3, judged - 1, judged})
]
METHODS = [(wilson, "wilson"), (agresti_coull, "agresti_coull"), (clopper_pearson, "beta"), (jeffreys, "jeffreys")]


@pytest.mark.parametrize(("interval", "method"), METHODS)
@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
def test_against_statsmodels(interval, method, confidence):
    kept, judged = np.array(GRID).T
    low, high = interval(kept, judged, confidence)
    for k, (x, n) in enumerate(GRID):
        expected_low, expected_high = proportion_confint(x, n, alpha=1 - confidence, method=method)
        # Ours ends at exactly 0 and 1 where nothing or everything was kept.
        expected_low = 0.0 if x == 0 else expected_low
        expected_high = 1.0 if x == n else expected_high
        assert low[k] == pytest.approx(expected_low, abs=1e-9), (x, n)
        assert high[k] == pytest.approx(expected_high, abs=1e-9), (x, n)


@pytest.mark.parametrize(("kept", "judged"), GRID)
def test_continuity_against_scipy(kept, judged):
    expected = binomtest(kept, judged).proportion_ci(method="wilsoncc")
    assert wilson_continuity(kept, judged) == pytest.approx((expected.low, expected.high), abs=1e-9)


@pytest.mark.parametrize(
    ("first", "second"), [((56, 70), (48, 80)), ((9, 10), (3, 10)), ((5, 56), (0, 29)), ((0, 10), (0, 20))]
)
def test_difference_against_statsmodels(first, second):
    expected = confint_proportions_2indep(*first, *second, method="newcomb", compare="diff")
    assert newcombe_difference(first, second)[1:] == pytest.approx(expected, abs=1e-9)


@given(
    st.integers(0, 500), st.integers(1, 500), st.sampled_from([wilson, wilson_continuity, clopper_pearson, jeffreys])
)
def test_holds_the_estimate_and_mirrors(kept, judged, interval):
    kept = min(kept, judged)
    low, high = interval(kept, judged)
    assert 0.0 <= low <= kept / judged <= high <= 1.0
    mirrored_low, mirrored_high = interval(judged - kept, judged)
    assert (1 - mirrored_high, 1 - mirrored_low) == pytest.approx((low, high), abs=1e-9)


@given(st.integers(0, 100), st.integers(1, 100))
def test_continuity_is_wider(kept, judged):
    kept = min(kept, judged)
    low, high = wilson(kept, judged)
    low_wide, high_wide = wilson_continuity(kept, judged)
    assert low_wide <= low + 1e-12
    assert high_wide >= high - 1e-12


@pytest.mark.parametrize("interval", [wilson, wilson_continuity, clopper_pearson])
def test_nothing_judged_says_nothing(interval):
    assert interval(0, 0) == pytest.approx((0.0, 1.0))


def test_unknown_counts_stay_unknown():
    low, high = wilson([3, math.nan], [10, 10])
    assert math.isnan(low[1])
    assert math.isnan(high[1])
    assert math.isnan(newcombe_difference((0, 0), (1, 2))[0])


@pytest.mark.parametrize(("kept", "judged"), [(3, 2), (-1, 5)])
def test_impossible_counts_are_refused(kept, judged):
    with pytest.raises(ValueError, match="between 0 and judged"):
        wilson(kept, judged)


@pytest.mark.parametrize("interval", [wilson, clopper_pearson, jeffreys])
def test_impossible_confidence_is_refused(interval):
    with pytest.raises(ValueError, match="not 1"):
        interval(1, 2, 1.5)
