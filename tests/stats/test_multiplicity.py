"""Many comparisons."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from auditor.stats.multiplicity import benjamini_hochberg, bonferroni, false_alarm_probability, holm, pairs

# Benjamini and Hochberg, J. R. Stat. Soc. B 57 (1995) 289-300, the 15 p-values of their example (from memory).
BH_1995 = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
]  # fmt: skip


@pytest.mark.published
def test_the_example_of_benjamini_and_hochberg():
    # Printed: Bonferroni rejects 3, their procedure 4; Holm 3 (computed).
    assert [int((adjust(BH_1995) <= 0.05).sum()) for adjust in (bonferroni, holm, benjamini_hochberg)] == [3, 3, 4]


@pytest.mark.parametrize(("comparisons", "chance"), [(10, 0.4013), (45, 0.9006)])
def test_false_alarms(comparisons, chance):
    # 1 - (1 - α)^k (standard).
    assert false_alarm_probability(comparisons) == pytest.approx(chance, abs=1e-4)


def test_ten_lenses_make_45_pairs():
    assert [pairs(k) for k in (0, 1, 2, 10)] == [0, 0, 1, 45]


@settings(max_examples=30)
@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20))
def test_against_statsmodels(p_values):
    for adjust, method in ((bonferroni, "bonferroni"), (holm, "holm"), (benjamini_hochberg, "fdr_bh")):
        expected = multipletests(p_values, method=method)[1]
        assert adjust(p_values) == pytest.approx(expected, abs=1e-12)
    assert (holm(p_values) <= bonferroni(p_values) + 1e-15).all()
    assert (benjamini_hochberg(p_values) <= holm(p_values) + 1e-12).all()


def test_order_is_kept():
    shuffled = np.array([0.04, 0.001, 0.2])
    assert holm(shuffled) == pytest.approx([0.08, 0.003, 0.2])
