"""Depth of field."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.optics.depth_of_field import (
    defocus_disc_um,
    far_limit_m,
    focus_error_disc_um,
    hyperfocal_m,
    near_limit_m,
)


def test_hyperfocal():
    # f²/(N c) + f, 50 mm f/8, c = 0.029 mm: H ≈ f²/(N c) in "Depth of field", Wikipedia; + f is exact.
    assert 1000 * hyperfocal_m(50.0, 8.0, 29.0) == pytest.approx(10825.9, abs=1)


def test_limits():
    # As above, focused at 5 m (standard algebra).
    assert 1000 * near_limit_m(50.0, 8.0, 29.0, 5.0) == pytest.approx(3426, abs=2)
    assert 1000 * far_limit_m(50.0, 8.0, 29.0, 5.0) == pytest.approx(9248, abs=2)


def test_disc_of_a_point_behind_the_focus():
    # f = 50, N = 2, focused at 2 m, point at 2.1 m: 30.53 µm (similar triangles).
    assert defocus_disc_um(50.0, 2.0, 2.0, 2.1) == pytest.approx(30.53, abs=0.05)


def test_disc_of_a_sensor_out_of_place():
    assert focus_error_disc_um(0.05, 2.0) == pytest.approx(25.0, abs=1e-6)
    assert focus_error_disc_um(-0.05, 2.0) == focus_error_disc_um(0.05, 2.0)


@given(st.floats(10, 200), st.floats(1.2, 22), st.floats(5, 40), st.floats(1.0, 100.0))
def test_the_limits_are_where_the_disc_is_the_tolerance(focal, f_number, blur, focus):
    near = near_limit_m(focal, f_number, blur, focus)
    far = far_limit_m(focal, f_number, blur, focus)
    assert near < focus < far
    assert defocus_disc_um(focal, f_number, focus, near) == pytest.approx(blur, rel=1e-6)
    if math.isfinite(far) and far < 1e5:
        assert defocus_disc_um(focal, f_number, focus, far) == pytest.approx(blur, rel=1e-4)


def test_focused_at_the_hyperfocal_distance():
    hyperfocal = hyperfocal_m(50.0, 8.0, 29.0)
    assert far_limit_m(50.0, 8.0, 29.0, hyperfocal) == math.inf
    # Half the hyperfocal distance is the near limit (text-book rule; exact for this form).
    assert near_limit_m(50.0, 8.0, 29.0, hyperfocal) == pytest.approx(hyperfocal / 2, rel=0.001)


def test_focused_at_infinity():
    assert far_limit_m(50.0, 8.0, 29.0, math.inf) == math.inf
    assert near_limit_m(50.0, 8.0, 29.0, math.inf) == pytest.approx(hyperfocal_m(50.0, 8.0, 29.0) - 0.05)


def test_nothing_is_in_focus_inside_the_focal_length():
    assert math.isnan(near_limit_m(50.0, 8.0, 29.0, 0.04))
    assert math.isnan(far_limit_m(50.0, 8.0, 29.0, 0.04))
    assert math.isnan(defocus_disc_um(50.0, 8.0, 0.04, 1.0))


def test_unknown_aperture_stays_unknown():
    assert math.isnan(hyperfocal_m(50.0, math.nan, 29.0))
    assert math.isnan(far_limit_m(50.0, 0.0, 29.0, 5.0))
