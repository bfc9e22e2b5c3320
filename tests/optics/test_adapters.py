"""Reducers, converters, tubes and adapter lengths."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.optics.adapters import (
    adapter_length_mm,
    farthest_focus_m,
    light_gain_stops,
    stacked_extension_mm,
    stacked_factor,
    through_factor,
)


def test_reducer_scales_focal_length_and_f_number():
    # f_eff = f R, N_eff = N R: "Telecompressor", Wikipedia (in words); 50 mm f/1.8 on 0.71x by arithmetic.
    assert through_factor(50.0, 0.71) == pytest.approx(35.5, abs=1e-6)
    assert through_factor(1.8, 0.71) == pytest.approx(1.278, abs=1e-6)


# 2 log2(1/τ) (arithmetic).
@pytest.mark.parametrize(("factor", "stops"), [(0.71, 0.9882), (0.64, 1.2877), (1.4, -0.9709), (2.0, -2.0)])
def test_light(factor, stops):
    assert light_gain_stops(factor) == pytest.approx(stops, abs=1e-3)


# Newton, (Si - f)(So - f) = f²: D. Jacobson, Photographic Lenses FAQ (1995/96). 0.1 mm too thick.
@pytest.mark.parametrize(("focal", "farthest"), [(24.0, 5.76), (50.0, 25.0), (135.0, 182.25)])
def test_adapter_too_thick(focal, farthest):
    assert farthest_focus_m(focal, 0.1) == pytest.approx(farthest, abs=1e-6)


@pytest.mark.parametrize("excess", [0.0, -0.3])
def test_adapter_not_too_thick_reaches_infinity(excess):
    assert farthest_focus_m(50.0, excess) == math.inf
    assert math.isnan(farthest_focus_m(math.nan, excess))


# Registers: camerabilia.blogspot.com (2011) and diglloyd.com (2018). M42 on E, F on Z, M on E, FD on X.
@pytest.mark.parametrize(
    ("lens", "body", "length"), [(45.46, 18.0, 27.46), (46.5, 16.0, 30.5), (27.8, 18.0, 9.8), (42.0, 17.7, 24.3)]
)
def test_adapter_length(lens, body, length):
    assert adapter_length_mm(lens, body) == pytest.approx(length, abs=0.01)


def test_no_adapter_no_change():
    assert stacked_factor([]) == 1.0
    assert stacked_extension_mm([], []) == 0.0


@given(st.lists(st.floats(0.5, 2.0), min_size=1, max_size=4))
def test_order_of_factors_does_not_matter(factors):
    assert stacked_factor(factors) == pytest.approx(stacked_factor(factors[::-1]))


def test_tube_behind_a_converter_counts_less():
    # Longitudinal magnification is the square of the lateral one (Newton's equation differentiated).
    assert stacked_extension_mm([10.0, 0.0], [1.0, 2.0]) == 10.0
    assert stacked_extension_mm([0.0, 10.0], [2.0, 1.0]) == 2.5


def test_each_adapter_needs_both_numbers():
    with pytest.raises(ValueError, match="shorter"):
        stacked_extension_mm([1.0, 2.0], [1.0])
