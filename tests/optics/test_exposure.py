"""Exposure values and moving subjects."""

from __future__ import annotations

import math

import pytest

from auditor.optics.exposure import (
    exposure_value,
    freezing_time_s,
    nominal_time_s,
    scene_ev100,
    subject_motion_um,
)
from auditor.optics.geometry import magnification_from_front_distance


# EV = log2(N²/t): "Exposure value", Wikipedia; nominally EV 15, 15 and 6.
@pytest.mark.parametrize(
    ("f_number", "time", "value"), [(16, 1 / 125, 14.966), (8, 1 / 500, 14.966), (1.4, 1 / 30, 5.878)]
)
def test_exposure_value(f_number, time, value):
    assert exposure_value(f_number, time) == pytest.approx(value, abs=1e-3)


# The nominal table of ISO 2720 / "Exposure value", Wikipedia: f/1 1 s is EV 0; each stop adds one.
@pytest.mark.published
@pytest.mark.parametrize(
    ("f_number", "time", "nominal"), [(1.0, 1.0, 0), (16, 1 / 125, 15), (8, 1 / 60, 12), (1.4, 1 / 30, 6)]
)
def test_nominal_exposure_value(f_number, time, nominal):
    assert round(exposure_value(f_number, time)) == nominal


def test_scene_brightness():
    # APEX, D. Kerr (2007): f/2, 1/60, ISO 1600.
    assert scene_ev100(2.0, 1 / 60, 1600) == pytest.approx(3.907, abs=1e-3)
    assert scene_ev100(2.0, 1 / 60, 100) == pytest.approx(exposure_value(2.0, 1 / 60))


def test_unknown_aperture_is_unknown_light():
    assert math.isnan(scene_ev100(0.0, 1 / 60, 1600))


def test_walking_subject():
    # 1.4 m/s square-on (common practice) at 5 m, 50 mm, 1/125 s: 113.1 µm; 1/490 s keeps it within 28.84 µm.
    scale = magnification_from_front_distance(5.0, 50.0)
    assert subject_motion_um(1.4, 1 / 125, scale) == pytest.approx(113.1, abs=0.1)
    assert 1 / freezing_time_s(1.4, scale, 28.84) == pytest.approx(490, abs=1)


def test_still_subject():
    assert subject_motion_um(0.0, 1.0, 0.01) == 0.0
    assert freezing_time_s(0.0, 0.01, 28.84) == math.inf


# Thirds of a stop as cameras name them (common practice).
@pytest.mark.parametrize(
    ("time", "nearest", "no_longer"), [(1 / 64, 60, 80), (1 / 60, 60, 60), (0.9, 1, 1.3), (5.0, 1, 1)]
)
def test_nominal_times(time, nearest, no_longer):
    assert 1 / nominal_time_s(time) == pytest.approx(nearest)
    assert 1 / nominal_time_s(time, no_longer=True) == pytest.approx(no_longer)


def test_nominal_time_of_an_unknown_one():
    assert math.isnan(nominal_time_s(math.nan))
    assert nominal_time_s([1e-9, 1 / 250]) == pytest.approx([1 / 8000, 1 / 250])
