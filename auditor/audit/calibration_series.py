"""A setting test for one pairing: its plan, and what its frames say in words."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from auditor.audit.card import body_tolerance_um, card_name
from auditor.audit.right_setting import right_setting_of
from auditor.errors import InputError
from auditor.model.pairings import Pairing
from auditor.model.settings import Settings
from auditor.shake.setting_test import (
    PlannedFrame,
    SettingReading,
    plan_setting_test,
    read_setting_test,
    series_exposure_s,
)
from auditor.shake.stabiliser import residual_floor
from auditor.wording import counted

__all__ = ["SettingPlan", "SettingResult", "plan_series", "plan_table", "read_series", "result_words"]

_WIDTHS = ("edge_width_px", "width_px")
_SCORES = ("rating", "sharpness", "sharpness_in_scene", "score")


@dataclass(frozen=True)
class SettingPlan:
    """
    What to shoot.

    Attributes
    ----------
    pairing : Pairing
    distance_m : float
        Sensor to target. [m]
    predicted_mm : float
        Setting that the kit lets expect there. [mm]
    exposure_time_s : float
        Of the series. [s]
    frames : tuple of PlannedFrame
    """

    pairing: Pairing
    distance_m: float
    predicted_mm: float
    exposure_time_s: float
    frames: tuple[PlannedFrame, ...]

    @property
    def name(self) -> str:
        """Pairing, as on a card."""
        return card_name(self.pairing)


@dataclass(frozen=True)
class SettingResult:
    """
    What the frames say.

    Attributes
    ----------
    plan : SettingPlan
    reading : SettingReading
    gain : float
        k: predicted ÷ best; the body's correction follows k × setting if the lens is as engraved. [-]
    lens_setting_mm : float
        Image-side distance of the lens alone at that distance, if the body's gain is as in the kit. [mm]
    stops_at_least : float
        Stops at the best setting; lens, pixels and focus blur too, so it is a lower end. [stop]
    kind : str
        width or score.
    measured : str
        The column that was read.
    frames : DataFrame
        What was read: ``setting_mm`` [mm] and ``response`` [px, or in the unit of the score], one row a frame.
    """

    plan: SettingPlan
    reading: SettingReading
    gain: float
    lens_setting_mm: float
    stops_at_least: float
    kind: str
    measured: str = ""
    frames: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False, compare=False)


def plan_series(
    pairing: Pairing, distance_m: float, settings: Settings, *, series: tuple[int, int] = (11, 6), seed: int = 1
) -> SettingPlan:
    """
    Plan a test of one pairing.

    Raises
    ------
    InputError
        The pairing has contacts or the body no stabiliser, or the target is nearer than the lens focuses.
    """
    name = card_name(pairing)
    if pairing.contacts:
        raise InputError(f'"{name}": the lens tells the body its focal length, there is nothing to type or to test')
    if pairing.body.stabiliser_stops == 0:
        raise InputError(
            f'"{name}": body "{pairing.body.id}" has no stabiliser, as kit.toml says (stabiliser_stops = 0)'
        )
    predicted = float(right_setting_of(pairing, np.array([distance_m]), np.array([np.nan])).best[0])
    if np.isnan(predicted):
        raise InputError(
            f'"{name}": {distance_m:g} m is nearer than the lens can focus',
            ["put the target further away, such as 3 m"],
        )
    tolerance = body_tolerance_um(pairing.body, settings.tolerance)
    if np.isnan(tolerance):
        raise InputError(
            f'"{name}": the sensor size of body "{pairing.body.id}" is not in the kit: no shutter time can be chosen',
            ["add sensor_mm, such as sensor_mm = [17.4, 13.0]"],
        )
    hand = settings.hand
    stops = max((pairing.body.stabiliser_stops or 5.0) - 1.0, 1.0)
    exposure = series_exposure_s(predicted * pairing.body.stabiliser_gain, tolerance, hand.shake_mrad, hand.exponent)
    frames = plan_setting_test(
        predicted,
        exposure,
        series=series,
        menu_mm=pairing.body.setting_values_mm,
        floor=float(residual_floor(stops, hand.exponent)),
        seed=seed,
    )
    return SettingPlan(pairing, distance_m, predicted, exposure, frames)


def plan_table(plan: SettingPlan) -> pd.DataFrame:
    """Return the plan as a table whose empty columns are to be filled in: a width, or a rating, one a frame."""
    return pd.DataFrame(
        {
            "order": [frame.order for frame in plan.frames],
            "setting_mm": [frame.setting_mm for frame in plan.frames],
            "exposure_time_s": [frame.exposure_time_s for frame in plan.frames],
            "rating": np.full(len(plan.frames), np.nan),
            "edge_width_px": np.full(len(plan.frames), np.nan),
        }
    )


def read_series(plan: SettingPlan, frames: pd.DataFrame, settings: Settings) -> SettingResult:
    """
    Read a test from measured or rated frames.

    Parameters
    ----------
    plan : SettingPlan
    frames : DataFrame
        With ``setting_mm`` (empty: stabiliser off) and one of ``edge_width_px`` (smaller is sharper) or ``rating``,
        ``sharpness`` (larger is sharper); only the slowest shutter time in it is read where times are given.
    settings : Settings
        H turns the residual into stops.

    Raises
    ------
    InputError
        Nothing to read in it.
    """
    columns = [name for name in (*_WIDTHS, *_SCORES) if name in frames and frames[name].notna().sum() >= 9]
    if "setting_mm" not in frames or not columns:
        raise InputError(
            "the frames of the test cannot be read",
            [
                f"it has the columns {', '.join(map(str, frames.columns)) or 'none'}",
                "it needs setting_mm and one of edge_width_px, rating or sharpness, filled in for nine frames or more",
            ],
        )
    kind = "width" if columns[0] in _WIDTHS else "score"
    rows, off = frames[frames["setting_mm"].notna()], frames[frames["setting_mm"].isna()]
    if "exposure_time_s" in rows and rows["exposure_time_s"].notna().any():
        rows = rows[rows["exposure_time_s"] >= rows["exposure_time_s"].max() * 0.8]
    try:
        reading = read_setting_test(
            rows["setting_mm"].to_numpy(np.float64),
            rows[columns[0]].to_numpy(np.float64),
            predicted_mm=plan.predicted_mm,
            kind="width" if kind == "width" else "score",
        )
    except ValueError as reason:
        raise InputError("the frames of the test cannot be read", [str(reason)]) from None
    gain = plan.predicted_mm / reading.best_mm * plan.pairing.body.stabiliser_gain
    floor = _floor(reading, rows, off, columns[0], settings.hand.exponent) if kind == "width" else float("nan")
    return SettingResult(
        plan=plan,
        reading=reading,
        gain=gain,
        lens_setting_mm=reading.best_mm * plan.pairing.body.stabiliser_gain / plan.pairing.factor,
        stops_at_least=float(-np.log2(floor) / settings.hand.exponent),
        kind=kind,
        measured=columns[0],
        frames=_read(rows, columns[0]),
    )


def _read(rows: pd.DataFrame, column: str) -> pd.DataFrame:
    read = pd.DataFrame({"setting_mm": rows["setting_mm"], "response": rows[column]}).astype("float64")
    return read.dropna().reset_index(drop=True)


def _floor(reading: SettingReading, rows: pd.DataFrame, off: pd.DataFrame, width: str, exponent: float) -> float:
    """Blur at the best setting over blur without the stabiliser: from frames with it off where there are enough."""
    unstabilised = off[width].dropna() if width in off else off[[]]
    if len(unstabilised) < 3 or "exposure_time_s" not in off:
        return reading.floor
    nearest = (rows["setting_mm"] - reading.best_mm).abs()
    best = rows.loc[nearest == nearest.min(), width].mean()
    shorter = off.loc[unstabilised.index, "exposure_time_s"].mean() / rows["exposure_time_s"].mean()
    return float(best / unstabilised.mean() * shorter**exponent)


def result_words(result: SettingResult) -> tuple[str, ...]:
    """Say what a test found, and what it cannot tell apart."""
    reading, plan = result.reading, result.plan
    off = 100.0 * (reading.best_mm / plan.predicted_mm - 1.0)
    lines = [f"{counted(reading.frames, 'frame')} at {counted(reading.settings, 'setting')}."]
    lines.append(
        f"Best setting at {plan.distance_m:g} m: {reading.best_mm:.1f} mm, nine in ten {reading.low_mm:.1f} to"
        f" {reading.high_mm:.1f}; the kit lets expect {plan.predicted_mm:.1f} mm ({off:+.1f} %)."
    )
    if not reading.told:
        lines.append(f"Not told: {reading.reason}.")
        return tuple(lines)
    lines.append(
        f"Either the lens is {result.lens_setting_mm:.1f} mm long at that distance, or the body follows "
        f"{result.gain:.3f} × what is typed. One lens cannot tell which: if a second lens shows the same factor, it is "
        "the body."
    )
    if result.kind == "width":
        lines.append(
            f"Stops at the best setting: {result.stops_at_least:.1f} or more, since lens and pixels blur too "
            "(their blur is in the floor)."
        )
    else:
        lines.append("Ratings tell which setting is best, not how many stops: that needs measured widths.")
    return tuple(lines)
