"""Fits of a yes-or-no outcome."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import minimize

from auditor.stats.logistic import fit_binary, predicted_probability


@pytest.fixture(scope="module")
def spector() -> tuple[np.ndarray, np.ndarray]:
    table = sm.datasets.spector.load_pandas()
    return sm.add_constant(table.exog, prepend=False).to_numpy(), table.endog.to_numpy()


@pytest.mark.published
def test_logit_of_the_statsmodels_manual(spector):
    # statsmodels documentation, "Discrete Choice Models Overview": GPA, TUCE, PSI, const.
    fit = fit_binary(*spector)
    assert fit.coefficients == pytest.approx([2.826113, 0.095158, 2.378688, -13.021347], abs=1e-5)
    # Errors and log-likelihood computed with statsmodels.
    assert fit.errors == pytest.approx([1.2629, 0.1416, 1.0646, 4.9313], abs=1e-4)
    assert fit.log_likelihood == pytest.approx(-12.8896, abs=1e-4)
    assert fit.converged


def test_probit(spector):
    # Computed with statsmodels.
    fit = fit_binary(*spector, link="probit")
    assert fit.coefficients == pytest.approx([1.62581, 0.05173, 1.42633, -7.45232], abs=1e-4)
    assert fit.log_likelihood == pytest.approx(-12.81880, abs=1e-4)


def test_cloglog_against_statsmodels(spector):
    family = sm.families.Binomial(link=sm.families.links.CLogLog())
    reference = sm.GLM(spector[1], spector[0], family=family).fit()
    fit = fit_binary(*spector, link="cloglog")
    assert fit.coefficients == pytest.approx(reference.params, abs=1e-4)
    assert fit.errors == pytest.approx(reference.bse, rel=1e-3)
    assert predicted_probability(spector[0], fit.coefficients, "cloglog") == pytest.approx(
        reference.fittedvalues, abs=1e-5
    )


# Made up: lens A used in the dark, no lens effect; bands easy, middle, hard.
KEPT = np.array([18, 30, 12, 108, 30, 2])
JUDGED = np.array([20, 60, 120, 120, 60, 20])
LENS = np.array([1, 1, 1, 0, 0, 0])
BAND = np.array([0, 1, 2, 0, 1, 2])


def test_lens_in_the_dark():
    # Computed with statsmodels: -1.6946 without the band, 0.0000 ± 0.3074 with it.
    ones = np.ones(6)
    crude = fit_binary(np.column_stack([ones, LENS]), KEPT / JUDGED, weight=JUDGED)
    assert crude.coefficients[1] == pytest.approx(-1.6946, abs=1e-3)
    bands = np.column_stack([ones, LENS, BAND == 1, BAND == 2])
    adjusted = fit_binary(bands, KEPT / JUDGED, weight=JUDGED)
    assert adjusted.coefficients[1] == pytest.approx(0.0, abs=1e-3)
    assert adjusted.errors[1] == pytest.approx(0.3074, abs=1e-3)


def test_separation_is_held_by_the_prior_and_said_without():
    x = np.column_stack([np.ones(6), [0, 0, 0, 1, 1, 1]])
    y = np.array([0, 0, 0, 1, 1, 1])
    assert not fit_binary(x, y).converged
    held = fit_binary(x, y, prior_deviation=2.5)
    assert held.converged
    assert 0 < held.coefficients[1] < 10


def test_a_stiff_prior_holds_everything_at_nought(spector):
    assert fit_binary(*spector, prior_deviation=1e-3).coefficients == pytest.approx(np.zeros(4), abs=1e-2)


def test_weights_stand_for_rows(spector):
    x, y = spector
    twice = fit_binary(np.vstack([x, x]), np.concatenate([y, y]))
    weighted = fit_binary(x, y, weight=2.0)
    assert weighted.coefficients == pytest.approx(twice.coefficients, abs=1e-6)
    assert weighted.errors == pytest.approx(twice.errors, rel=1e-6)


def test_steps_are_halved_where_a_full_one_overshoots():
    # Wide-flung causes under cloglog: the second full step would fall below the first (found by search).
    cause = [108.0, 28.0, -59.0, 196.0, 66.0, 74.0, -17.0, -99.0, -56.0, 35.0, 62.0, -43.0]
    x, y = np.column_stack([np.ones(12), cause]), np.array([1, 1, 0, 0, 1, 1, 1, 0, 0, 1, 1, 0])
    fit = fit_binary(x, y, link="cloglog", prior_deviation=1000.0)

    def cost(b):
        chance = np.clip(-np.expm1(-np.exp(np.clip(x @ b, -700.0, 50.0))), 1e-12, 1 - 1e-12)
        return -(y * np.log(chance) + (1 - y) * np.log1p(-chance)).sum()

    reference = minimize(cost, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    assert fit.converged
    assert fit.log_likelihood == pytest.approx(-reference.fun, abs=1e-3)
