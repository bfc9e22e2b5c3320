"""A short test that finds the best stabiliser setting: what to shoot, and what the frames say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri
from scipy.stats import rankdata

from auditor.constants import RAYLEIGH_MEDIAN, REFERENCE_TIME_S
from auditor.optics.arrays import ArrayLike, FloatArray, floats
from auditor.optics.exposure import nominal_time_s
from auditor.shake.mixtures import weighted_quantiles

__all__ = ["PlannedFrame", "SettingReading", "plan_setting_test", "read_setting_test", "series_exposure_s"]

_LEAST_REACH, _MOST_REACH = 0.25, 0.5  # either side of the predicted setting; engraving errors are well inside
_BLUR_OVER_TOLERANCE = 12.0  # so that a 5 % error alone smears by 0.6 of what is tolerated, 2-3 pixels
_OFF_SHORTER = 8.0
_PREDICTION_ERROR = 0.1  # engraving (5 % is commonly said), distance and a body's gain together; a judgement
_FLOORS = np.geomspace(0.004, 1.0, 41)
_PLACES = np.exp(np.linspace(np.log(0.55), np.log(1.8), 401))


@dataclass(frozen=True, slots=True)
class PlannedFrame:
    """
    One frame of a test.

    Attributes
    ----------
    order : int
        When it is taken, from 1.
    setting_mm : float
        What to type; NaN: switch the stabiliser off. [mm]
    exposure_time_s : float
        Shutter time to set. [s]
    """

    order: int
    setting_mm: float
    exposure_time_s: float


@dataclass(frozen=True, slots=True)
class SettingReading:
    """
    What a test says.

    Attributes
    ----------
    best_mm, low_mm, high_mm : float
        Best setting and its interval. [mm]
    floor, floor_low, floor_high : float
        Blur at the best setting over blur without a stabiliser at that time; lens and pixels are in it. [-]
    told : bool
        False where the best setting lies at the edge of what was tried, or its interval is wider than ±10 %.
    reason : str
        Why not; empty where told.
    frames, settings : int
        Frames read, and different settings among them. [frames]
    """

    best_mm: float
    low_mm: float
    high_mm: float
    floor: float
    floor_low: float
    floor_high: float
    told: bool
    reason: str
    frames: int
    settings: int


def series_exposure_s(right_mm: float, tolerance_um: float, shake_mrad: float, exponent: float) -> float:
    """
    Shutter time at which a wrong setting shows and the right one is still sharp.

    Parameters
    ----------
    right_mm : float
        Predicted setting. [mm]
    tolerance_um : float
        Tolerated blur. [µm]
    shake_mrad, exponent : float
        The photographer's hand, a at 1/60 s [mrad] and H [-].

    Returns
    -------
    float
        Nominal shutter time nearest to where blur without a stabiliser is twelve times the tolerance. [s]

    Notes
    -----
    Valid for stabilisers of 3 stops and more; cut to 1/8000-1 s.

    References
    ----------
    .. [1] Median of v a (t/t0)^H times √(2 ln 2), solved for t.

    Examples
    --------
    >>> round(1 / series_exposure_s(50.0, 14.43, 0.29, 0.8))
    3
    """
    wanted = _BLUR_OVER_TOLERANCE * tolerance_um / (RAYLEIGH_MEDIAN * right_mm * shake_mrad)
    time = REFERENCE_TIME_S * wanted ** (1.0 / exponent)
    return float(nominal_time_s(time))


def _settings(right_mm: float, count: int, menu_mm: Sequence[float], floor: float) -> FloatArray:
    # A wrong setting tells most where its error is about the stabiliser's own residual.
    reach = min(max(2.0 * floor, _LEAST_REACH), _MOST_REACH)
    wanted = right_mm * np.linspace(1.0 - reach, 1.0 + reach, count)
    if menu_mm:
        menu = np.array(sorted(menu_mm))
        return floats(menu[(menu >= 0.7 * wanted[0]) & (menu <= 1.3 * wanted[-1])])
    return floats(np.unique(np.round(wanted)))


def plan_setting_test(
    right_mm: float,
    exposure_time_s: float,
    *,
    series: tuple[int, int] = (11, 6),
    menu_mm: Sequence[float] = (),
    floor: float = 0.1,
    seed: int = 1,
) -> tuple[PlannedFrame, ...]:
    """
    Plan a test: which settings, in which order.

    Parameters
    ----------
    right_mm : float
        Predicted setting, in the middle of those tried. [mm]
    exposure_time_s : float
        Shutter time, as from `series_exposure_s`. [s]
    series : (settings, frames)
        Different settings, and frames at each; as many again with the stabiliser off at an eighth of the time. [frames]
    menu_mm : sequence of float
        The only values that the body offers. [mm]
    floor : float
        Residual expected at the right setting, r0. [-]
    seed : int
        Of the order, so that a sheet printed again is the same. [-]

    Returns
    -------
    tuple of PlannedFrame
        In the order to shoot [mm, s]: rounds of all settings, each shuffled, so that tiring hands touch all alike.

    Notes
    -----
    Settings reach twice the floor either side, 25 % at least and 50 % at most, in whole millimetres. Valid where the
    best setting is within that.

    References
    ----------
    .. [1] Randomised complete blocks: R. A. Fisher, The Design of Experiments (1935), ch. 4 (from memory).

    Examples
    --------
    >>> plan = plan_setting_test(50.0, 1 / 6)
    >>> len(plan), plan[0].order
    (72, 1)
    """
    rng = np.random.default_rng(seed)
    tried = [*_settings(right_mm, series[0], menu_mm, floor).tolist(), float("nan")]
    order = [setting for _ in range(series[1]) for setting in rng.permutation(tried).tolist()]
    off_time = float(nominal_time_s(exposure_time_s / _OFF_SHORTER))
    return tuple(
        PlannedFrame(number, setting, off_time if np.isnan(setting) else exposure_time_s)
        for number, setting in enumerate(order, start=1)
    )


def _normal_scores(score: FloatArray) -> FloatArray:
    """Ranks as normal deviates, ties shared: a rating says which is better, not by how much."""
    return floats(ndtri((rankdata(score) - 0.375) / (score.size + 0.25)))


def _log_posterior_of_widths(shape: FloatArray, width: FloatArray) -> FloatArray:
    """
    Blur in proportion to the residual, with scatter in proportion to itself: only the level is free.

    A Rayleigh length with some spread tells its scale better by its mean than by its logarithm's, 2.3 against 1.9
    units of information a frame.
    """
    ratio = width / shape
    level = ratio.mean(axis=2)
    deviance = np.log(shape).sum(axis=2) + width.size * np.log(level)
    best = np.unravel_index(int(np.argmin(deviance)), deviance.shape)
    scatter = float(np.var(ratio[best] / level[best], ddof=3))
    return floats(-deviance / max(scatter, 1e-6))


def _log_posterior(gain_error: FloatArray, response: FloatArray, kind: str) -> FloatArray:
    """Log posterior of every (place, floor), shape (places, floors); gain_error has shape (places, frames)."""
    square = gain_error[:, np.newaxis, :] ** 2 + _FLOORS[:, np.newaxis] ** 2
    count = response.size
    if kind == "width":
        return _log_posterior_of_widths(np.sqrt(square), response)
    x = 0.5 * np.log(square)
    x = x - x.mean(axis=2, keepdims=True)
    y = response - response.mean()
    spread, together = (x * x).sum(axis=2), (x * y).sum(axis=2)
    rest = (y * y).sum() - together**2 / spread
    rising = together > 0.0  # further off must be worse
    return floats(np.where(rising, -0.5 * (count - 2) * np.log(rest) - 0.5 * np.log(spread), -np.inf))


def read_setting_test(
    setting_mm: ArrayLike,
    response: ArrayLike,
    *,
    predicted_mm: float,
    kind: Literal["width", "score"] = "width",
    confidence: float = 0.9,
) -> SettingReading:
    """
    Find the best setting from frames taken at several.

    Parameters
    ----------
    setting_mm : array, shape (n,)
        What was typed, stabiliser on, one shutter time. [mm]
    response : array, shape (n,)
        Width of an edge at the centre [px], or a sharpness or rating [any unit], one a frame.
    predicted_mm : float
        Setting that the kit lets expect; believed to 10 % before the test. [mm]
    kind : {"width", "score"}
        Smaller is sharper, or larger is. [-]
    confidence : float
        Of the intervals. [-]

    Returns
    -------
    SettingReading
        Best setting [mm] and the floor [-], with intervals.

    Raises
    ------
    ValueError
        For fewer than 3 settings or 9 frames.

    Notes
    -----
    Mean width = level · √((1 - s/b)² + ρ²); for scores, normal scores of the ranks against its logarithm with free
    slope. The posterior is computed on a grid of b and ρ with level, slope and scatter taken out. Valid for settings on
    both sides of the best.

    References
    ----------
    .. [1] D. M. Bates and D. G. Watts, Nonlinear Regression Analysis (1988), sec. 2.5, conditionally linear parameters
       (from memory).

    Examples
    --------
    >>> settings = np.repeat(np.arange(40.0, 62.0, 2.0), 6)
    >>> widths = 40 * np.hypot(1 - settings / 52.0, 0.05)
    >>> reading = read_setting_test(settings, widths + 0.01 * np.sin(np.arange(66)), predicted_mm=50.0)
    >>> round(reading.best_mm), reading.told
    (52, True)
    """
    setting, value = floats(setting_mm), floats(response)
    usable = np.isfinite(setting) & np.isfinite(value) & ((value > 0) | (kind == "score"))
    setting, value = setting[usable], value[usable]
    tried = np.unique(setting)
    if tried.size < 3 or setting.size < 9:
        raise ValueError("a test needs frames at three settings or more, nine frames in all")
    y = value if kind == "width" else -_normal_scores(value)
    places = predicted_mm * _PLACES
    believed = -0.5 * (np.log(_PLACES) / _PREDICTION_ERROR) ** 2
    log_posterior = _log_posterior(1.0 - setting / places[:, np.newaxis], y, kind) + believed[:, np.newaxis]
    weight = np.exp(log_posterior - log_posterior.max())
    wanted = [0.5, (1.0 - confidence) / 2.0, (1.0 + confidence) / 2.0]
    best, low, high = weighted_quantiles(places, weight.sum(axis=1), wanted)
    floor, floor_low, floor_high = np.exp(weighted_quantiles(np.log(_FLOORS), weight.sum(axis=0), wanted))
    reason = _doubt(float(best), (float(low), float(high)), tried)
    return SettingReading(
        float(best), float(low), float(high), float(floor), float(floor_low), float(floor_high),
        not reason, reason, int(setting.size), int(tried.size),
    )  # fmt: skip


def _doubt(best: float, interval: tuple[float, float], tried: npt.NDArray[np.float64]) -> str:
    if best <= tried[0] or best >= tried[-1]:
        return "the best setting lies at or beyond the edge of those tried: try more on that side"
    if (interval[1] - interval[0]) / best > 0.2:
        return "the frames do not tell the settings apart: use a slower shutter, or more frames"
    return ""
