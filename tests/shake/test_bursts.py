"""Several frames of one subject."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from auditor.shake.bursts import best_of_gain_stops, frames_for_chance, one_sharp_probability


# 1-(1-p)^n (standard).
@pytest.mark.parametrize(("chance", "frames", "expected"), [(0.3, 5, 0.8319), (0.1, 10, 0.6513)])
def test_independent_frames(chance, frames, expected):
    assert one_sharp_probability(chance, frames) == pytest.approx(expected, abs=1e-4)


# Beta-binomial with intraclass correlation (standard).
@pytest.mark.parametrize(("correlation", "expected"), [(0.1, 0.7632), (0.3, 0.6417), (0.5, 0.5344)])
def test_frames_that_are_alike(correlation, expected):
    assert one_sharp_probability(0.3, 5, correlation) == pytest.approx(expected, abs=1e-4)


@given(st.floats(0.02, 0.98), st.integers(1, 30), st.floats(0.01, 0.9))
def test_against_the_beta_binomial_of_scipy(chance, frames, correlation):
    strength = (1 - correlation) / correlation
    none = stats.betabinom.pmf(0, frames, chance * strength, (1 - chance) * strength)
    assert one_sharp_probability(chance, frames, correlation) == pytest.approx(1 - none, abs=1e-9)


def test_frames_needed():
    # 95 % for p = 0.5, 0.3, 0.1, independent (standard): 5, 9, 29.
    assert frames_for_chance([0.5, 0.3, 0.1]).tolist() == [5, 9, 29]


def test_frames_needed_without_end():
    assert frames_for_chance(0.0) == math.inf
    assert frames_for_chance(1.0) == 1
    assert math.isnan(frames_for_chance(math.nan))
    assert frames_for_chance(0.5, correlation=0.3) > frames_for_chance(0.5)


# The least of n Rayleigh lengths is Rayleigh with σ/√n (standard).
@pytest.mark.parametrize(("frames", "stops"), [(2, 0.5), (4, 1.0), (8, 1.5)])
def test_best_of_several(frames, stops):
    assert best_of_gain_stops(frames) == pytest.approx(stops, abs=1e-6)
    assert best_of_gain_stops(frames, 0.5) == pytest.approx(2 * stops)


def test_best_of_several_by_simulation():
    lengths = stats.rayleigh.rvs(size=(40000, 4), random_state=np.random.default_rng(2))
    gain = math.log2(np.median(lengths) / np.median(lengths.min(axis=1)))
    assert gain == pytest.approx(best_of_gain_stops(4), abs=0.03)
