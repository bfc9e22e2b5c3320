"""What was measured beside what was fitted: kept share over shutter time, and a setting test's blur over setting."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.calibration_series import SettingResult
from auditor.optics.arrays import ArrayLike, FloatArray, floats
from auditor.optics.exposure import nominal_time_s
from auditor.shake.estimates import HandFit
from auditor.shake.hand import image_shake_um, shake_sigma_mrad, sharp_probability
from auditor.shake.stabiliser import residual_floor
from auditor.shake.trials import Trials, burst_weights
from auditor.stats.intervals import wilson

__all__ = ["SERIES_COLUMNS", "SHARE_COLUMNS", "expected_kept", "keep_shares", "series_curve", "series_table"]

SHARE_COLUMNS = (
    "stabiliser", "focal", "exposure_time_s", "frames", "independent", "kept", "kept_share", "low", "high", "fitted",
)  # fmt: skip
"""Of ``keep_shares``: ``focal`` is a band of right settings, ``independent`` what the frames are worth, shares 0-1."""

SERIES_COLUMNS = ("setting_mm", "frames", "mean", "fitted")
"""Of ``series_table``: mean and fitted width [px], or the mean score."""

_WELL_SET = 0.1  # as the default tolerance of settings.toml
_STATES = np.array(["set right", "set wrong", "off"])
_FIRST_BAND_MM = 25.0


def expected_kept(trials: Trials, fit: HandFit) -> FloatArray:
    """
    Return how likely a fit makes it that each frame is kept, 0-1, shape (n,).

    P(kept) = q · P(B ≤ c) at the fit's medians, with each frame's own shutter time, length and setting error.
    """
    exponent = fit.exponent.value
    floor = float(residual_floor(fit.stops.value, exponent))
    left = np.where(np.isnan(trials.setting_error), 1.0, np.hypot(np.nan_to_num(trials.setting_error), floor))
    turn = shake_sigma_mrad(trials.exposure_time_s, fit.shake_mrad.value, exponent)
    sharp = sharp_probability(
        trials.tolerance_um, image_shake_um(trials.right_mm, turn, left), min(fit.spread_stops.value, 3.0)
    )
    return floats(fit.other_keep.value * floats(sharp))


def keep_shares(trials: Trials, fit: HandFit) -> pd.DataFrame:
    """
    Count what was kept by stabiliser, focal length and shutter time, beside what the fit lets expect.

    Parameters
    ----------
    trials : Trials
        The frames of the fit.
    fit : HandFit

    Returns
    -------
    DataFrame
        Columns ``SHARE_COLUMNS``: focal lengths in bands that double, nominal shutter times a stop apart; Wilson's
        interval at the fit's confidence, for what the frames of bursts are worth.
    """
    error = np.nan_to_num(trials.setting_error, nan=-1.0)
    frames = pd.DataFrame(
        {
            "stabiliser": np.select([error < 0, error <= _WELL_SET], [2, 0], 1),
            "band": np.maximum(np.floor(np.log2(trials.right_mm / _FIRST_BAND_MM)), -1).astype(int),
            "stop": np.round(np.log2(trials.exposure_time_s)).astype(int),
            "kept": trials.kept,
            "weight": burst_weights(trials.burst, fit.burst_correlation),
            "expected": expected_kept(trials, fit),
        }
    )
    frames["kept_weight"] = frames["kept"] * frames["weight"]
    groups = frames.groupby(["stabiliser", "band", "stop"], sort=True)
    shares = groups.agg(
        frames=("kept", "size"), kept=("kept", "sum"), independent=("weight", "sum"),
        kept_weight=("kept_weight", "sum"), fitted=("expected", "mean"),
    ).reset_index()  # fmt: skip
    worth = shares["independent"].to_numpy(float)
    low, high = wilson(np.minimum(shares["kept_weight"].to_numpy(float), worth), worth, fit.confidence)
    shares = shares.assign(
        stabiliser=_STATES[shares["stabiliser"].to_numpy(int)],
        focal=[_band(int(band)) for band in shares["band"]],
        exposure_time_s=nominal_time_s(2.0 ** shares["stop"].to_numpy(float)),
        kept_share=shares["kept_weight"] / worth,
        low=low,
        high=high,
    )
    return shares[list(SHARE_COLUMNS)]


def _band(number: int) -> str:
    first = _FIRST_BAND_MM * 2.0**number
    return f"up to {_FIRST_BAND_MM:g} mm" if number < 0 else f"{first:g}-{2 * first:g} mm"


def series_table(result: SettingResult) -> pd.DataFrame:
    """
    Return a setting test setting by setting.

    Returns
    -------
    DataFrame
        Columns ``SERIES_COLUMNS``; ``fitted`` is NaN for scores, of which only the order is read.
    """
    groups = result.frames.groupby("setting_mm", sort=True)["response"]
    table = groups.agg(frames="size", mean="mean").reset_index()
    return table.assign(fitted=series_curve(result, table["setting_mm"].to_numpy(float)))[list(SERIES_COLUMNS)]


def series_curve(result: SettingResult, setting_mm: ArrayLike) -> npt.NDArray[np.float64]:
    """
    Return the width that a setting test's fit lets expect at some settings, NaN for scores.

    Mean width = level · √((1 - s/b)² + ρ²), the level from all frames read.
    """
    settings = floats(setting_mm)
    if result.kind != "width":
        return np.full(settings.shape, np.nan)
    best, floor = result.reading.best_mm, result.reading.floor
    level = float(np.mean(result.frames["response"] / np.hypot(1.0 - result.frames["setting_mm"] / best, floor)))
    return level * np.hypot(1.0 - settings / best, floor)
