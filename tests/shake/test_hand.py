"""The hand: law of shake, blur, and the chance of a sharp frame."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad

from auditor.constants import HANDHELD_BLUR_THRESHOLD_UM, RAYLEIGH_MEDIAN
from auditor.optics.sensors import circle_of_confusion_um, diagonal_mm
from auditor.shake.correlated import correlated_rate_exponent, correlated_rate_sigma_s
from auditor.shake.hand import (
    blur_probability,
    exposure_time_for_sharp_s,
    image_shake_um,
    shake_blur_um,
    shake_sigma_mrad,
    sharp_probability,
)
from auditor.shake.stabiliser import residual

DEGREE_PER_SECOND_AT_60TH_MRAD = math.radians(1) * 1000 / 60


def test_threshold_of_the_standard_as_an_angle():
    # 63 µm on 24×36 mm: AS ISO 20954.1:2019, 3.5; at 50 mm 1.26 mrad or 0.0722°.
    assert image_shake_um(50.0, 1.26) == pytest.approx(HANDHELD_BLUR_THRESHOLD_UM, abs=0.05)
    assert math.degrees(HANDHELD_BLUR_THRESHOLD_UM / 50.0 / 1000) == pytest.approx(0.0722, abs=1e-3)


# computed: the rate at which the 1/f rule just reaches the tolerance, whatever the focal length.
@pytest.mark.parametrize(("tolerance", "rate", "degrees"), [(63.0, 0.063, 3.6096), (28.84, 0.0288, 1.6527)])
@pytest.mark.parametrize("focal", [24.0, 50.0, 300.0])
def test_reciprocal_rule_is_a_constant_rate(tolerance, rate, degrees, focal):
    turn_mrad = rate * 1000 / focal
    assert image_shake_um(focal, turn_mrad) == pytest.approx(tolerance, abs=0.05)
    assert math.degrees(rate) == pytest.approx(degrees, abs=0.003)


def test_laser_pointer_hold():
    # "about 0.24 degree", 1.5 in circle at 30 ft: D. Criner, SAS E-Bulletin, 20 Feb 2004. Rate = angle over 1/16 s.
    degrees = math.degrees(1.5 / (30 * 12))
    assert degrees == pytest.approx(0.239, abs=0.01)
    assert degrees * 16 == pytest.approx(3.820, abs=0.01)
    sigma = shake_sigma_mrad(1 / 16, math.radians(3.82) * 1000 / 60, 1.0)
    assert math.degrees(sigma / 1000) == pytest.approx(0.239, abs=0.01)


def test_rayleigh_law():
    # Median, mean, RMS and 95th percentile over σ (standard): 1.1774, 1.2533, 1.4142, 2.4477.
    assert shake_blur_um(1.0) == pytest.approx(1.1774, abs=1e-4)
    assert pytest.approx(stats.rayleigh.median(), rel=1e-12) == RAYLEIGH_MEDIAN
    for moment, printed in ((stats.rayleigh.mean(), 1.2533), (stats.rayleigh.moment(2) ** 0.5, 1.4142)):
        assert moment == pytest.approx(printed, abs=1e-4)
    assert sharp_probability(2.4477, 1.0) == pytest.approx(0.95, abs=1e-4)


def test_spread_of_log_blur():
    # SD of ln of a Rayleigh length is π/√24 = 0.6413, 0.9252 stop (standard): the blur law must give it.
    length = np.exp(np.linspace(-12, 3, 30001))
    mass = np.diff(sharp_probability(length, 1.0))
    middle = np.log(np.sqrt(length[1:] * length[:-1]))
    mean = (mass * middle).sum()
    spread = math.sqrt((mass * (middle - mean) ** 2).sum())
    assert spread == pytest.approx(0.6413, abs=1e-4)
    assert spread / math.log(2) == pytest.approx(0.9252, abs=1e-4)


@pytest.mark.parametrize(("ratio", "sharp"), [(1.0, 0.3935), (2.0, 0.8647)])
def test_chance_within_the_tolerance(ratio, sharp):
    # 1 - exp(-c²/2σ²) (standard).
    assert sharp_probability(ratio, 1.0) == pytest.approx(sharp, abs=1e-4)
    assert blur_probability(ratio, 1.0) == pytest.approx(1 - sharp, abs=1e-4)


# derived: P at x stops from the 50 % time is 1 - exp(-ln 2 · 2^(-2Hx)).
KEEP = [(1.0, (1.0, 0.9375, 0.5, 0.1591, 0.0424)), (0.5, (0.9375, 0.75, 0.5, 0.2929, 0.1591))]


@pytest.mark.parametrize(("exponent", "expected"), KEEP)
def test_keep_curve_over_stops(exponent, expected):
    half = exposure_time_for_sharp_s(0.5, 28.84, 50.0, hand=(0.3, exponent, 0.0))
    sigma = shake_sigma_mrad(half * 2.0 ** np.arange(-2, 3), 0.3, exponent)
    assert sharp_probability(28.84, image_shake_um(50.0, sigma)) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("exponent", "slope"), [(1.0, -1.3863), (0.8, -1.1090), (0.5, -0.6931)])
def test_complementary_log_log_slope(exponent, slope):
    # derived: ln(-ln(1-P)) falls by 2 H ln 2 a stop.
    sigma = shake_sigma_mrad(np.array([1 / 60, 1 / 30]), 0.3, exponent)
    chance = sharp_probability(20.0, image_shake_um(50.0, sigma))
    assert np.diff(np.log(-np.log1p(-chance)))[0] == pytest.approx(slope, abs=1e-4)


@pytest.mark.parametrize(("offset", "expected"), [(-2, 0.9945), (-1, 0.8834), (0, 0.5160), (1, 0.1873), (2, 0.0527)])
def test_keep_curve_with_spread(offset, expected):
    # derived: lognormal steadiness, s = 0.5 stop, H = 1.
    sigma = 28.84 / RAYLEIGH_MEDIAN * 2.0**offset
    assert sharp_probability(28.84, sigma, 0.5) == pytest.approx(expected, abs=1e-3)


def test_one_degree_per_second_on_the_reciprocal_rule():
    # computed, 36×24 at 1/f: σ 17.4533 µm, 0.7448 at diagonal/1500, 0.9985 at 63 µm. 1 °/s is an assumption.
    sigma = image_shake_um(100.0, shake_sigma_mrad(0.01, DEGREE_PER_SECOND_AT_60TH_MRAD, 1.0))
    assert sigma == pytest.approx(17.4533, abs=1e-3)
    assert sharp_probability(circle_of_confusion_um(diagonal_mm(36, 24)), sigma) == pytest.approx(0.7448, abs=1e-3)
    assert sharp_probability(63.0, sigma) == pytest.approx(0.9985, abs=1e-3)


def test_crop_does_not_matter_to_the_rule():
    # computed: 1/(2f) on Four Thirds, diagonal/1500: σ 8.7266, 0.7450.
    sigma = image_shake_um(50.0, shake_sigma_mrad(1 / 100, DEGREE_PER_SECOND_AT_60TH_MRAD, 1.0))
    assert sigma == pytest.approx(8.7266, abs=2e-3)
    assert sharp_probability(circle_of_confusion_um(diagonal_mm(17.3, 13.0)), sigma) == pytest.approx(0.7450, abs=2e-3)


# derived: rate with memory 35.4 ms (corner 4.5 Hz).
@pytest.mark.parametrize(("time", "exponent"), [(0.01, 0.955), (0.05, 0.814), (0.1, 0.705), (0.5, 0.538)])
def test_local_exponent(time, exponent):
    assert correlated_rate_exponent(time, 1 / (2 * math.pi * 4.5)) == pytest.approx(exponent, abs=1e-3)


# derived; a Monte-Carlo run agreed within 2 %.
@pytest.mark.parametrize(("time", "sigma"), [(0.01, 0.00955), (0.1, 0.06849), (1.0, 0.25990)])
def test_turn_of_a_rate_with_memory(time, sigma):
    assert correlated_rate_sigma_s(time, 0.035) == pytest.approx(sigma, abs=1e-5)


def test_turn_of_a_rate_with_memory_by_simulation():
    rng = np.random.default_rng(5)
    step, memory, runs = 0.0005, 0.035, 8000
    keep = math.exp(-step / memory)
    rate = rng.standard_normal(runs)
    angle = np.zeros(runs)
    for _ in range(200):
        angle += rate * step
        rate = keep * rate + math.sqrt(1 - keep**2) * rng.standard_normal(runs)
    assert angle.std() == pytest.approx(correlated_rate_sigma_s(0.1, memory), rel=0.03)


@given(st.floats(1e-4, 10.0), st.floats(0.005, 0.5))
def test_local_exponent_is_the_slope(time, memory):
    ratio = correlated_rate_sigma_s(time * 1.001, memory) / correlated_rate_sigma_s(time / 1.001, memory)
    slope = math.log(ratio) / (2 * math.log(1.001))
    assert correlated_rate_exponent(time, memory) == pytest.approx(slope, abs=2e-3)
    assert 0.5 <= correlated_rate_exponent(time, memory) <= 1.0


# derived, end to end: 85 mm, far subject, 1/15 s, S = 5, 1 °/s per axis, H = 1, 28.84 µm.
@pytest.mark.parametrize(
    ("setting", "left", "sigma", "sharp"),
    [(85.0, 0.0312, 3.0907, 1.0), (50.0, 0.4129, 40.8415, 0.2207), (170.0, 1.0005, 98.9503, 0.0416)],
)
def test_end_to_end(setting, left, sigma, sharp):
    found = residual(setting, 85.0, 5.0)
    assert found == pytest.approx(left, abs=2e-3)
    image = image_shake_um(85.0, shake_sigma_mrad(1 / 15, DEGREE_PER_SECOND_AT_60TH_MRAD, 1.0), found)
    assert image == pytest.approx(sigma, abs=2e-3)
    assert sharp_probability(28.84, image) == pytest.approx(sharp, abs=2e-3)


@given(st.floats(0.05, 20.0), st.floats(0.05, 2.5))
def test_spread_against_numerical_integration(ratio, spread):
    def weighted(eta: float) -> float:
        return -math.expm1(-(ratio**2) / 2 * 2.0 ** (-2 * spread * eta)) * stats.norm.pdf(eta)

    expected = quad(weighted, -9, 9, limit=200, epsabs=1e-9)[0]
    assert sharp_probability(ratio, 1.0, spread) == pytest.approx(expected, abs=1e-5)


@given(st.floats(0.05, 0.99), st.floats(0.0, 1.5), st.floats(0.5, 1.0), st.floats(0.02, 1.0))
def test_exposure_time_is_the_inverse(probability, spread, exponent, left):
    time = exposure_time_for_sharp_s(probability, 20.0, 85.0, left=left, hand=(0.29, exponent, spread))
    sigma = image_shake_um(85.0, shake_sigma_mrad(time, 0.29, exponent), left)
    assert sharp_probability(20.0, sigma, spread) == pytest.approx(probability, abs=1e-4)


@given(st.floats(1.0, 100.0), st.floats(1.0, 100.0), st.floats(0.0, 2.0))
def test_steadier_is_never_less_likely_sharp(sigma, tolerance, spread):
    assert sharp_probability(tolerance, sigma * 1.1, spread) <= sharp_probability(tolerance, sigma, spread) + 1e-12
    assert 0.0 <= sharp_probability(tolerance, sigma, spread) <= 1.0


def test_no_shake_is_sharp_and_unknown_is_unknown():
    assert sharp_probability(10.0, 0.0) == 1.0
    assert sharp_probability(10.0, 0.0, 0.5) == 1.0
    for spread in (0.0, 0.5):
        assert math.isnan(blur_probability(10.0, math.nan, spread))
        assert math.isnan(blur_probability(math.nan, 10.0, spread))
    assert math.isnan(shake_sigma_mrad(0.0))


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.1, math.nan])
def test_no_time_for_a_chance_that_cannot_be(probability):
    assert math.isnan(exposure_time_for_sharp_s(probability, 20.0, 50.0))


def test_arrays():
    chances = blur_probability(np.array([10.0, 20.0]), np.array([[5.0], [50.0]]), 0.5)
    assert chances.shape == (2, 2)
    times = exposure_time_for_sharp_s([0.5, 0.8, 0.95], 20.0, 50.0)
    assert (np.diff(times) < 0).all()
