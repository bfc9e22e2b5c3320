"""Measured settings over distance."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.optics.breathing import breathing_setting_mm, measured_setting_mm
from auditor.optics.geometry import right_setting_at_mm


def test_table_of_a_unit_focusing_lens_gives_the_thin_lens_between_its_rows():
    table = [(d, right_setting_at_mm(50.0, d)) for d in (0.45, 0.6, 1.0, 2.0)]
    for between in (0.5, 0.8, 1.5, 5.0, 30.0):
        assert breathing_setting_mm(between, table, infinity_mm=50.0) == pytest.approx(
            right_setting_at_mm(50.0, between), rel=0.001
        )


def test_rows_are_met_in_any_order():
    table = [(1.0, 52.9), (0.45, 55.0)]
    assert breathing_setting_mm([0.45, 1.0], table) == pytest.approx([55.0, 52.9])


def test_nothing_is_extrapolated():
    table = [(0.45, 55.0), (1.0, 52.9)]
    assert math.isnan(breathing_setting_mm(0.4, table))
    assert math.isnan(breathing_setting_mm(3.0, table))
    assert math.isnan(breathing_setting_mm(math.nan, table, infinity_mm=51.6))
    assert breathing_setting_mm(3.0, table, infinity_mm=51.6) < 52.9


def test_a_row_at_infinity_wins_over_the_engraved_value():
    assert breathing_setting_mm(math.inf, [(math.inf, 51.0), (0.5, 54.0)], infinity_mm=50.0) == 51.0


def test_single_row():
    assert breathing_setting_mm(0.5, [(0.5, 54.0)]) == 54.0
    assert math.isnan(breathing_setting_mm(0.6, [(0.5, 54.0)]))


def test_factor_scales():
    assert breathing_setting_mm(0.45, [(0.45, 55.0), (1.0, 52.9)], factor=0.71) == pytest.approx(55.0 * 0.71)


@given(st.lists(st.floats(30.0, 60.0), min_size=2, max_size=6, unique=True), st.floats(0.0, 1.0))
def test_monotone_tables_stay_monotone_and_inside(settings, where):
    settings = sorted(settings, reverse=True)
    table = [(0.3 * 1.5**k, value) for k, value in enumerate(settings)]
    span = np.linspace(1 / table[-1][0], 1 / table[0][0], 50)
    found = breathing_setting_mm(np.clip(1 / span, table[0][0], table[-1][0]), table)
    assert np.nanmin(found) >= settings[-1] - 1e-9
    assert np.nanmax(found) <= settings[0] + 1e-9
    assert (np.diff(found) >= -1e-9).all()
    inside = 1 / (span[0] + where * (span[-1] - span[0]))
    assert not math.isnan(breathing_setting_mm(np.clip(inside, table[0][0], table[-1][0]), table))


@given(st.floats(10.0, 400.0), st.floats(-0.3, 0.1), st.floats(0.15, 0.4))
def test_measuring_finds_what_the_projection_used(image_distance, first, second):
    separation = image_distance * (math.tan(second) - math.tan(first))
    assert measured_setting_mm(separation, first, second) == pytest.approx(image_distance, rel=1e-9)


def test_one_direction_measures_nothing():
    assert math.isnan(measured_setting_mm(5.0, 0.1, 0.1))
