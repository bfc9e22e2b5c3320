"""Wrong settings: what they leave and what they cost."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.shake.limits import (
    earth_rotation_cap_stops,
    reciprocal_rule_s,
    residual_from_suppression,
    suppression_db,
)
from auditor.shake.stabiliser import residual, residual_floor, setting_tolerance, stops_cap, stops_left, stops_lost

# Rows marked "derived" follow from r² = (1-g)² + r0², r0 = 2^(-H S): algebra, checked by a second method in PHYSICS B.
ERRORS = (0.05, 0.10, 0.20, 0.50)


@pytest.mark.parametrize(("stops", "floor"), [(3, 0.125), (5, 0.03125), (7, 0.0078125)])
def test_residual_at_the_right_setting(stops, floor):
    assert residual_floor(stops) == pytest.approx(floor, abs=1e-9)
    assert residual(50.0, 50.0, stops) == pytest.approx(floor, abs=1e-9)


# derived: stops lost for 5, 10, 20 and 50 % setting error, too short or too long alike.
LOST = [(3, (0.107, 0.357, 0.916, 2.044)), (5, (0.916, 1.745, 2.695, 4.003)), (7, (2.695, 3.682, 4.679, 6.000))]
# derived: stops left, same cases.
LEFT = [(3, (2.893, 2.643, 2.084, 0.956)), (5, (4.084, 3.255, 2.305, 0.997)), (7, (4.305, 3.318, 2.321, 1.000))]


@pytest.mark.parametrize(("stops", "lost"), LOST)
@pytest.mark.parametrize("side", [-1, 1])
def test_stops_lost(stops, lost, side):
    left = residual(100.0 * (1 + side * np.array(ERRORS)), 100.0, stops)
    assert stops_lost(left, stops) == pytest.approx(lost, abs=0.002)


@pytest.mark.parametrize(("stops", "stops_kept"), LEFT)
def test_stops_left(stops, stops_kept):
    left = residual(100.0 * (1 - np.array(ERRORS)), 100.0, stops)
    assert stops_left(left) == pytest.approx(stops_kept, abs=0.002)


# derived: r0 √3 for one stop, r0 for half a stop, in percent.
@pytest.mark.parametrize(("stops", "one", "half"), [(3, 21.651, 12.500), (5, 5.413, 3.125), (7, 1.353, 0.781)])
def test_tolerance(stops, one, half):
    assert 100 * setting_tolerance(stops, 1.0) == pytest.approx(one, abs=1e-3)
    assert 100 * setting_tolerance(stops, 0.5) == pytest.approx(half, abs=1e-3)


@given(st.floats(1.0, 8.0), st.floats(0.1, 2.0), st.floats(0.5, 1.0))
def test_tolerance_loses_just_that(stops, loss, exponent):
    error = setting_tolerance(stops, loss, exponent)
    left = residual(100.0 * (1 + error), 100.0, stops, exponent=exponent)
    assert stops_lost(left, stops, exponent) == pytest.approx(loss, abs=1e-9)


def test_twice_too_long_is_off_and_more_is_worse():
    # derived: g = 2 leaves 1.000488, g = 2.5 is 0.5853 stop worse than off (S = 5).
    assert residual(200.0, 100.0, 5) == pytest.approx(1.000488, abs=1e-5)
    assert stops_left(residual(200.0, 100.0, 5)) == pytest.approx(-0.000704, abs=1e-5)
    assert residual(250.0, 100.0, 5) == pytest.approx(1.5003, abs=1e-3)
    assert stops_left(residual(250.0, 100.0, 5)) == pytest.approx(-0.5853, abs=1e-3)


# derived: equivalent typed on APS-C and Four Thirds; 0.71x, 1.4x and 2x forgotten. Stops left of 5.
@pytest.mark.parametrize(
    ("gain", "kept"), [(1.534, 0.9026), (2.0, -0.0007), (1 / 0.71, 1.288), (1 / 1.4, 1.799), (0.5, 0.997)]
)
def test_common_slips(gain, kept):
    assert stops_left(residual(100.0 * gain, 100.0, 5)) == pytest.approx(kept, abs=0.002)


def test_too_short_and_too_long_are_alike():
    kept = [stops_left(residual(g, 1.0, 5)) for g in (0.8, 1.2)]
    assert kept == pytest.approx([2.30452861, 2.30452861], abs=1e-6)


def test_scaled_floor_has_its_exact_limits():
    # derived: g → 0 leaves 1 exactly, g = 1 leaves r0, g = 2 leaves 1.001951 (S = 5).
    found = residual([1e-9, 1.0, 2.0], 1.0, 5, form="scaled-floor")
    assert found == pytest.approx([1.0, 0.03125, 1.001951], abs=1e-6)


def test_the_two_forms_differ_little_near_the_right_setting():
    # derived: at most 0.090 stop for |1-g| ≤ 0.2 at S = 3.
    gains = np.linspace(0.8, 1.2, 401)
    difference = stops_left(residual(gains, 1.0, 3)) - stops_left(residual(gains, 1.0, 3, form="scaled-floor"))
    assert np.abs(difference).max() == pytest.approx(0.090, abs=0.002)


def test_suppression_ratio():
    # -30.46 dB best at 8 Hz: Li and Chen, IEEE Trans. Consum. Electron. 59(1):113-121 (2013); conversion computed.
    left = residual_from_suppression(-30.46)
    assert left == pytest.approx(0.0300, abs=1e-3)
    assert stops_left(left) == pytest.approx(5.0593, abs=1e-3)
    # Gain errors alone, 1, 5, 10, 20 % (computed).
    assert suppression_db([0.01, 0.05, 0.1, 0.2]) == pytest.approx([-40.0, -26.02, -20.0, -13.98], abs=0.01)


# derived: 10 % error at S = 5 by the exponent of the hand.
@pytest.mark.parametrize(("exponent", "kept"), [(1.0, 3.255), (0.7, 4.151), (0.5, 4.599)])
def test_exponent(exponent, kept):
    left = residual(90.0, 100.0, 5, exponent=exponent)
    assert stops_left(left, exponent) == pytest.approx(kept, abs=0.002)


# Ω = 7.27e-5 rad/s and "6.3 stops": thecentercolumn.com (2020-01-17); the tolerance 5.73 µm is solved back from it.
@pytest.mark.published
@pytest.mark.parametrize(("blur", "cap"), [(5.73, 6.30), (29.0, 8.63), (63.0, 9.75)])
def test_earth_rotation(blur, cap):
    assert earth_rotation_cap_stops(blur) == pytest.approx(cap, abs=0.01)


# A 1981 SLR manual: 125 mm → 1/125 s, 300 mm → 1/500 s "safe side" (the rule's 1/300 is slower than that).
@pytest.mark.published
def test_reciprocal_rule():
    assert reciprocal_rule_s(125.0) == pytest.approx(1 / 125)
    assert reciprocal_rule_s(300.0) >= 1 / 500
    assert reciprocal_rule_s(50.0, 2.0) == pytest.approx(1 / 100)


def test_cap_is_the_limit_of_a_perfect_stabiliser():
    # derived: 4.32, 3.32, 2.32, 1.00 at 5, 10, 20, 50 %.
    assert stops_cap(ERRORS) == pytest.approx([4.32, 3.32, 2.32, 1.0], abs=0.005)
    assert stops_left(residual(90.0, 100.0, 30)) == pytest.approx(stops_cap(0.1), abs=1e-6)
    assert stops_cap(0.0) == math.inf


@given(st.floats(0.2, 5.0), st.floats(0.5, 8.0))
def test_never_better_than_right(gain, stops):
    assert residual(gain, 1.0, stops) >= residual(1.0, 1.0, stops) - 1e-15
    assert stops_lost(residual(gain, 1.0, stops), stops) >= -1e-9


@given(st.floats(0.2, 0.99), st.floats(0.5, 8.0))
def test_closer_is_better(gain, stops):
    assert residual(gain, 1.0, stops) > residual(gain + (1 - gain) / 2, 1.0, stops)


def test_off_and_none_leave_all_of_it():
    assert residual(50.0, 85.0, 5.0, is_on=False) == 1.0
    assert residual(math.nan, math.nan, math.nan, is_on=False) == 1.0
    assert residual(50.0, 85.0, 0.0) == 1.0
    assert residual([50.0, 50.0], 50.0, 5.0, is_on=[True, False]) == pytest.approx([0.03125, 1.0])


@pytest.mark.parametrize(
    ("setting", "right", "stops"), [(math.nan, 50, 5), (50, math.nan, 5), (50, 50, math.nan), (0, 50, 5)]
)
def test_unknown_stays_unknown(setting, right, stops):
    assert math.isnan(residual(setting, right, stops))
