"""Rates drawn towards what all show."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import betabinom

from auditor.stats.shrinkage import (
    BetaPrior,
    beta_prior_by_likelihood,
    beta_prior_by_moments,
    james_stein,
    posterior,
    posterior_above,
)

# Efron and Morris, Stein's Paradox in Statistics, Sci. Am. 236(5) (1977): 18 players, 45 at bats each.
HITS = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7])
AT_BATS = np.full(18, 45)


@pytest.mark.published
def test_baseball():
    # Printed: c = 0.212, mean .265; the best player .400 → .294 (the last from memory).
    shrunk, factor = james_stein(HITS / AT_BATS, 45)
    assert factor == pytest.approx(0.2117, abs=1e-3)
    assert (HITS / AT_BATS).mean() == pytest.approx(0.2654, abs=1e-3)
    assert shrunk[0] == pytest.approx(0.2939, abs=1e-3)


def test_beta_prior_by_moments():
    # ICC = (s²/(μ(1-μ)/n) - 1)/(n-1), s² with n - 1 (computed): α = 97.7, β = 270.3, best player 0.280.
    prior = beta_prior_by_moments(HITS, AT_BATS)
    assert (prior.alpha, prior.beta) == pytest.approx((97.7, 270.3), abs=0.5)
    assert posterior(18, 45, prior)[0] == pytest.approx(0.280, abs=5e-4)


def test_beta_prior_by_likelihood():
    # Flat likelihood (computed): α ≈ 210.6, β ≈ 582.7, best player 0.273.
    prior = beta_prior_by_likelihood(HITS, AT_BATS)
    assert prior.mean == pytest.approx(210.6 / 793.3, abs=1e-3)
    assert prior.alpha == pytest.approx(210.6, rel=0.02)
    assert posterior(18, 45, prior)[0] == pytest.approx(0.273, abs=1e-3)


def test_likelihood_against_a_general_minimiser():
    kept, judged = np.array([2, 9, 14, 30, 7]), np.array([20, 20, 21, 33, 40])

    def cost(logs: np.ndarray) -> float:
        return -betabinom.logpmf(kept, judged, *np.exp(logs)).sum()

    reference = np.exp(minimize(cost, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-9}).x)
    prior = beta_prior_by_likelihood(kept, judged)
    assert (prior.alpha, prior.beta) == pytest.approx(tuple(reference), rel=0.01)


@pytest.mark.published
def test_pooled_rate():
    # Young-Xu and Chan, BMC Med. Res. Methodol. 8:58 (2008): α = 1.24, β = 34.73 → 3.44 %; ICC computed.
    prior = BetaPrior(1.24, 34.73)
    assert prior.mean == pytest.approx(0.0345, abs=5e-4)
    assert prior.correlation == pytest.approx(0.0270, abs=5e-4)


def test_groups_that_do_not_differ_share_one_rate():
    prior = beta_prior_by_moments([5, 5, 5], [10, 10, 10])
    assert posterior([5, 9], [10, 10], prior)[0] == pytest.approx(0.5, abs=1e-3)
    assert beta_prior_by_moments([0, 0, 0], [10, 10, 10]).mean == 0.0


def test_groups_that_differ_wholly_keep_their_own():
    prior = beta_prior_by_moments([0, 10, 0, 10], [10, 10, 10, 10])
    assert posterior(10, 10, prior)[0] > 0.95


def test_groups_of_single_frames():
    prior = beta_prior_by_moments([0, 1, 0, 1], [1, 1, 1, 1])
    assert prior.mean == pytest.approx(0.5)


def test_posterior_moves_from_prior_to_data():
    prior = BetaPrior(5, 5)
    mean, low, high = posterior([0, 80], [0, 100], prior)
    assert mean[0] == pytest.approx(0.5)
    assert 0.75 < mean[1] < 0.8
    assert (low < mean).all()
    assert (mean < high).all()
    assert high[1] - low[1] < high[0] - low[0]
    assert posterior_above(80, 100, prior, 0.5) > 0.99


def test_alike_groups_are_drawn_together():
    shrunk, factor = james_stein([0.3, 0.3, 0.3, 0.3], 50)
    assert factor == 0.0
    assert shrunk == pytest.approx([0.3] * 4)


def test_too_few_groups_are_refused():
    with pytest.raises(ValueError, match="four groups"):
        james_stein([0.1, 0.2, 0.3], 10)
    with pytest.raises(ValueError, match="two groups"):
        beta_prior_by_moments([1, 0], [10, 0])
    with pytest.raises(ValueError, match="two groups"):
        beta_prior_by_likelihood([1], [10])
