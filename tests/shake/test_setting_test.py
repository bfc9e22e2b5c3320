"""Planning and reading a setting test."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.optics.exposure import NOMINAL_TIMES_S
from auditor.shake.setting_test import plan_setting_test, read_setting_test, series_exposure_s
from tests.benchmarks.calibration.setting_test import one


def test_plan_holds_every_setting_as_often_and_none_in_order():
    plan = plan_setting_test(50.0, 1 / 4)
    settings = np.array([frame.setting_mm for frame in plan])
    typed, counts = np.unique(settings[~np.isnan(settings)], return_counts=True)
    assert typed.size == 11
    assert set(counts) == {6}
    assert np.isnan(settings).sum() == 6
    assert [frame.order for frame in plan] == list(range(1, 73))
    assert typed[0] < 40 < 60 < typed[-1]
    first = settings[:12]
    assert set(first[~np.isnan(first)]) == set(typed), "each round has every setting once"
    assert not np.array_equal(settings[:12], settings[12:24], equal_nan=True)


def test_plan_is_the_same_each_time_it_is_printed():
    assert repr(plan_setting_test(50.0, 1 / 4, seed=3)) == repr(plan_setting_test(50.0, 1 / 4, seed=3))
    assert repr(plan_setting_test(50.0, 1 / 4, seed=3)) != repr(plan_setting_test(50.0, 1 / 4, seed=4))


def test_plan_keeps_to_the_menu():
    menu = (24.0, 28.0, 35.0, 40.0, 50.0, 60.0, 70.0, 85.0, 200.0)
    typed = {frame.setting_mm for frame in plan_setting_test(50.0, 1 / 4, menu_mm=menu) if frame.setting_mm > 0}
    assert typed <= set(menu)
    assert {40.0, 50.0, 60.0} <= typed
    assert 200.0 not in typed


def test_a_weaker_stabiliser_needs_a_wider_reach():
    narrow, wide = (
        np.nanmax([frame.setting_mm for frame in plan_setting_test(50.0, 1 / 4, floor=floor)]) for floor in (0.02, 0.2)
    )
    assert wide > narrow + 5


def test_off_frames_are_shorter():
    times = {np.isnan(f.setting_mm): f.exposure_time_s for f in plan_setting_test(50.0, 1 / 4)}
    assert times[True] < times[False] / 6


def test_shutter_time_is_one_that_cameras_have():
    time = series_exposure_s(50.0, 14.43, 0.29, 0.8)
    assert time in NOMINAL_TIMES_S
    assert series_exposure_s(200.0, 14.43, 0.29, 0.8) < time
    assert series_exposure_s(1.0, 14.43, 0.29, 0.8) == 1.0


SETTINGS = np.repeat(np.arange(40.0, 62.0, 2.0), 6)


@pytest.mark.parametrize("kind", ["width", "score"])
def test_a_clean_series_gives_its_best(kind):
    width = 60.0 * np.hypot(1 - SETTINGS / 52.7, 0.05) * (1 + 0.03 * np.sin(np.arange(SETTINGS.size) * 2.4))
    value = width if kind == "width" else -width
    reading = read_setting_test(SETTINGS, value, predicted_mm=50.0, kind=kind)
    assert reading.best_mm == pytest.approx(52.7, rel=0.01)
    assert reading.low_mm < 52.7 < reading.high_mm
    assert reading.told
    assert reading.reason == ""
    assert (reading.frames, reading.settings) == (66, 11)
    assert reading.floor == pytest.approx(0.05, rel=0.2)


def test_ratings_may_be_tied():
    width = 60.0 * np.hypot(1 - SETTINGS / 47.0, 0.05)
    stars = np.clip(np.round(6 - np.log2(width)), 0, 5)
    assert read_setting_test(SETTINGS, stars, predicted_mm=50.0, kind="score").best_mm == pytest.approx(47.0, rel=0.03)


def test_noise_is_not_read_as_an_answer():
    width = np.random.default_rng(2).rayleigh(10.0, SETTINGS.size)
    reading = read_setting_test(SETTINGS, width, predicted_mm=50.0)
    assert not reading.told
    assert "tell the settings apart" in reading.reason or "edge" in reading.reason


def test_the_edge_is_not_an_answer():
    settings = np.repeat([50.0, 52.0, 54.0, 56.0], 6)
    reading = read_setting_test(settings, 60.0 * np.hypot(1 - settings / 45.0, 0.05), predicted_mm=45.0)
    assert not reading.told
    assert "edge" in reading.reason


def test_frames_without_a_value_are_left_out():
    width = 60.0 * np.hypot(1 - SETTINGS / 52.0, 0.05)
    width[:6] = np.nan
    width[6] = 0.0
    assert read_setting_test(SETTINGS, width, predicted_mm=50.0).frames == 59


def test_too_little_is_refused():
    with pytest.raises(ValueError, match="three settings"):
        read_setting_test([50.0] * 20, np.ones(20), predicted_mm=50.0)
    with pytest.raises(ValueError, match="nine frames"):
        read_setting_test([48.0, 50.0, 52.0], np.ones(3), predicted_mm=50.0)


@pytest.mark.parametrize("kind", ["width", "score"])
def test_simulated_tests_find_the_setting_within_three_percent(kind):
    # 11 settings × 6 frames, 5 stops; nine in ten is asked for and 96 % (ratings 91 %) measured over 300 runs in
    # tests/benchmarks/calibration. 60 runs at 90 %: fewer than 46 would happen by chance once in a thousand.
    rng = np.random.default_rng(7)
    found = [one(rng, 5.0, 0.8, kind) for _ in range(60)]
    assert sum(abs(reading.best_mm / true - 1) <= 0.03 for true, reading in found) >= 46
    assert sum(reading.low_mm <= true <= reading.high_mm for true, reading in found) >= 46
