"""Measured beside fitted."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.calibration_curves import (
    SHARE_COLUMNS,
    expected_kept,
    keep_shares,
    series_curve,
    series_table,
)
from auditor.audit.calibration_series import SettingPlan, SettingResult, plan_series, plan_table, read_series
from auditor.model.pairings import pairing_of
from auditor.model.settings import Settings
from auditor.shake.estimates import Estimate, HandFit
from auditor.shake.trials import Trials
from auditor.stats.intervals import wilson
from tests.kits import small_kit


def _fit(correlation: float = 0.0, spread: float = 0.0) -> HandFit:
    values = {"shake_mrad": 0.29, "exponent": 1.0, "spread_stops": spread, "stops": 5.0, "stabilised_mrad": 0.009}
    return HandFit(
        **{name: Estimate(value, value / 2, value * 2, True) for name, value in values.items()},
        other_keep=Estimate(0.8, 0.7, 0.9, True), frames=4, stabilised=2, off=2, burst_correlation=correlation,
        effective_frames=4.0, confidence=0.9,
    )  # fmt: skip


def _trials(time: list[float], right: list[float], error: list[float], kept: list[bool], burst: list[int]) -> Trials:
    return Trials(
        np.array(time), np.array(right), np.full(len(time), 28.84), np.array(error), np.array(kept), np.array(burst)
    )


# ln 2 = c²/2σ² at a chance of one half: with c = 28.84 µm, v = 50 mm, a = 0.29 mrad and H = 1 at 1/35.5 s,
# as the doctest of exposure_time_for_sharp_s; a setting off by g leaves hypot(g, 1/32) of it.
def test_the_expected_share_by_hand():
    trials = _trials([1 / 35.5, 1 / 35.5 / np.hypot(0.5, 1 / 32)], [50, 50], [np.nan, 0.5], [True, True], [0, 1])
    assert expected_kept(trials, _fit()) == pytest.approx([0.4, 0.4], abs=0.001)


def test_frames_are_counted_by_state_length_and_time():
    trials = _trials(
        [1 / 60, 1 / 65, 1 / 30, 1 / 60, 1 / 60],
        [51, 60, 60, 60, 20],
        [0.0, 0.05, 0.0, 0.4, np.nan],
        [True, False, True, False, True],
        [0, 1, 2, 3, 4],
    )
    shares = keep_shares(trials, _fit())
    assert list(shares.columns) == list(SHARE_COLUMNS)
    assert shares["frames"].sum() == 5
    assert list(shares["stabiliser"]) == ["set right", "set right", "set wrong", "off"]
    assert list(shares["focal"]) == ["50-100 mm", "50-100 mm", "50-100 mm", "up to 25 mm"]
    first = shares.iloc[0]
    assert (first["exposure_time_s"], first["frames"], first["kept"], first["kept_share"]) == (1 / 60, 2, 1, 0.5)
    assert (first["low"], first["high"]) == pytest.approx(wilson(1, 2, 0.9))


def test_frames_of_one_burst_are_worth_less():
    trials = _trials([1 / 60] * 4, [60.0] * 4, [0.0] * 4, [True, True, True, False], [7] * 4)
    alike = keep_shares(trials, _fit(correlation=1.0)).iloc[0]
    assert (alike["frames"], alike["independent"]) == (4, pytest.approx(1.0))
    alone = keep_shares(trials, _fit()).iloc[0]
    assert alike["high"] - alike["low"] > alone["high"] - alone["low"]


def test_the_fitted_share_follows_what_was_simulated():
    """Frames drawn from the model itself: measured and fitted agree within the interval nine times in ten."""
    rng = np.random.default_rng(3)
    time = rng.choice([1 / 125, 1 / 60, 1 / 30, 1 / 15, 1 / 8], 4000)
    trials = _trials(list(time), [50.0] * 4000, [np.nan] * 4000, [True] * 4000, list(range(4000)))
    kept = rng.random(4000) < expected_kept(trials, _fit(spread=0.5))
    shares = keep_shares(_trials(list(time), [50.0] * 4000, [np.nan] * 4000, list(kept), list(range(4000))),
                         _fit(spread=0.5))  # fmt: skip
    inside = (shares["low"] <= shares["fitted"]) & (shares["fitted"] <= shares["high"])
    assert inside.sum() >= len(shares) - 1


def _plan() -> SettingPlan:
    return plan_series(pairing_of(small_kit(), "one", "hale-85", "m42-plain"), 3.0, Settings())


def _result(column: str) -> SettingResult:
    plan = _plan()
    table = plan_table(plan)
    width = 40 * np.hypot(1 - table["setting_mm"] / 90.0, 0.08)
    scatter = np.exp(np.random.default_rng(1).normal(0, 0.03, len(table)))
    return read_series(plan, table.assign(**{column: width * scatter if column != "rating" else -width}), Settings())


def test_the_curve_of_a_test_is_lowest_at_its_best_setting():
    result = _result("edge_width_px")
    table = series_table(result)
    assert table["frames"].sum() == result.reading.frames
    assert table["fitted"].to_numpy() == pytest.approx(table["mean"].to_numpy(), rel=0.12)
    around = series_curve(result, result.reading.best_mm * np.array([0.9, 1.0, 1.1]))
    assert around[1] < around[0]
    assert around[1] < around[2]
    assert result.measured == "edge_width_px"


def test_ratings_have_no_curve():
    table = series_table(_result("rating"))
    assert isinstance(table, pd.DataFrame)
    assert table["fitted"].isna().all()
    assert table["mean"].notna().all()
