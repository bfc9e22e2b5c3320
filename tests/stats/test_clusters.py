"""Frames that are alike."""

from __future__ import annotations

import math

import numpy as np
import pytest

from auditor.stats.clusters import design_effect, effective_count, intraclass_correlation


def test_design_effect():
    # Variance inflation 1+(n-1)ρ (standard): 100 frames in bursts of 5, ρ = 0.3.
    assert design_effect(5, 0.3) == pytest.approx(2.20, abs=0.01)
    assert effective_count(100, 5, 0.3) == pytest.approx(45.45, abs=0.01)


def test_limits():
    assert design_effect(1, 0.9) == 1.0
    assert design_effect(5, 0.0) == 1.0
    assert effective_count(100, 5, 1.0) == pytest.approx(20.0)


@pytest.mark.parametrize("truth", [0.0, 0.2, 0.5])
def test_correlation_is_found_again(truth):
    rng = np.random.default_rng(11)
    bursts, size = 4000, rng.integers(2, 8, 4000)
    strength = (1 - truth) / truth if truth else None
    rate = rng.beta(0.4 * strength, 0.6 * strength, bursts) if strength else np.full(bursts, 0.4)
    assert intraclass_correlation(rng.binomial(size, rate), size) == pytest.approx(truth, abs=0.03)


def test_what_cannot_be_told():
    assert math.isnan(intraclass_correlation([3], [5]))
    assert math.isnan(intraclass_correlation([1, 0, 1], [1, 1, 1]))
    assert intraclass_correlation([0, 0], [5, 5]) == 0.0
