"""Turning the camera, at the centre and off the axis."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.optics.geometry import right_setting_mm
from auditor.optics.rotation import off_axis_factor, off_axis_stops_cap, pivot_setting_mm, translation_share


def test_shift_per_milliradian():
    # f = 100 mm at m = 0.5: v = 150 mm, so a turn of 1 mrad moves the image by 150 µm.
    assert right_setting_mm(100.0, 0.5) * 1.0 == pytest.approx(150.0, abs=1e-9)


# Exact for a rigid turn: pivot behind the lens, at the subject (nothing moves), at the sensor (f (1+m)²).
@pytest.mark.parametrize(
    ("focal", "magnification", "pivot", "expected"),
    [(100.0, 0.1, 150.0, 125.0), (80.0, 0.25, -400.0, 0.0), (100.0, 0.2, 120.0, 144.0)],
)
def test_pivot(focal, magnification, pivot, expected):
    assert pivot_setting_mm(focal, magnification, pivot) == pytest.approx(expected, abs=1e-9)


def _turned(focal: float, magnification: float, pivot: float, turn: float) -> float:
    """Image shift of an on-axis point by rigid rotation, exactly, from the lens equation alone."""
    u = focal * (1 + 1 / magnification)
    lens = np.array([pivot, 0.0])
    turning = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    lens_now = turning @ lens
    subject = np.array([pivot + u, 0.0]) - lens_now
    along, across = turning.T @ subject
    return abs(right_setting_mm(focal, magnification) * across / along)


@given(st.floats(20, 300), st.floats(0.01, 1.0), st.floats(0.0, 300.0))
def test_pivot_against_rigid_rotation(focal, magnification, pivot):
    turn = 1e-6
    assert _turned(focal, magnification, pivot, turn) / turn == pytest.approx(
        pivot_setting_mm(focal, magnification, pivot), rel=1e-4
    )


@pytest.mark.parametrize(("magnification", "share"), [(0.1, 0.0909), (0.5, 0.3333), (1.0, 0.5)])
def test_translation_against_rotation(magnification, share):
    # f = 100 mm, 1 mrad, 0.1 mm: m/(1+m) (derived).
    assert translation_share(magnification, 0.1, 100.0, 1.0) == pytest.approx(share, abs=1e-4)


# d(v tan α)/dα = v sec² α at x = 18 mm; EP 4 468 063 A2 para 0002 states the effect.
@pytest.mark.parametrize(
    ("image", "factor", "cap"), [(24.0, 1.5625, 0.830), (50.0, 1.1296, 2.948), (135.0, 1.0178, 5.814)]
)
def test_edge_of_the_frame(image, factor, cap):
    assert off_axis_factor(18.0, image) == pytest.approx(factor, abs=1e-4)
    assert off_axis_stops_cap(18.0, image) == pytest.approx(cap, abs=1e-3)


def test_centre_is_unlimited():
    assert off_axis_factor(0.0, 50.0) == 1.0
    assert off_axis_stops_cap(0.0, 50.0) == math.inf
