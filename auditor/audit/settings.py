"""Was the stabiliser told the right focal length, and what did a wrong one cost."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.model.kit import Body, Kit
from auditor.model.settings import Settings
from auditor.shake.stabiliser import residual, stops_lost

__all__ = ["add_setting_cost", "add_setting_verdict", "nearest_on_menu"]

_SLACK = 1 + 1e-9  # a setting exactly at the tolerance is within it, whatever the last binary digit says

Bools = npt.NDArray[np.bool_]


def add_setting_verdict(frames: pd.DataFrame, kit: Kit, settings: Settings) -> pd.DataFrame:
    """
    Add ``setting_verdict`` and ``is_stabilised``.

    Parameters
    ----------
    frames : DataFrame
        With pairing, ``setting_mm``, the right setting and its range, ``stabiliser_mode`` and ``stabiliser_on``.
    kit, settings
        The photographer's files.

    Returns
    -------
    DataFrame
        Same rows, same order. The verdict is

        - ``not-needed`` where the lens tells the body its focal length, or nothing was stabilised;
        - ``right`` within the tolerance of the best value, or the nearest value that the body's menu offers; for a
          zoom whose position was not noted anything from half its short end up to the short end, since that only
          corrects too little (below half, less than one stop is left whatever the position);
        - ``too-short`` or ``too-long`` where it is so at every distance it may have been used at; a zoom whose
          position was not noted is ``too-long`` above its short end, for what was perhaps used;
        - ``unknown`` otherwise.
    """
    bodies = {body.id: body for body in kit.bodies}
    stops = _stops(frames, bodies)
    is_stabilised = _stabiliser_was_on(frames) & ~(stops == 0).fillna(False).to_numpy(bool)
    right, too_short, too_long = _against_range(frames, settings.tolerance.setting_percent / 100)
    zoom = _is_open_zoom(frames, kit)
    right, too_short, too_long = _for_open_zoom(
        frames, zoom, settings.tolerance.setting_percent / 100, (right, too_short, too_long)
    )
    right |= _is_nearest_on_menu(frames, bodies)
    verdict = np.select(
        [frames["has_contacts"].to_numpy(bool) | ~is_stabilised, right, too_short, too_long],
        ["not-needed", "right", "too-short", "too-long"],
        default="unknown",
    )
    return frames.assign(
        setting_verdict=pd.Series(verdict, index=frames.index, dtype="str"), is_stabilised=is_stabilised
    )


def add_setting_cost(frames: pd.DataFrame, kit: Kit, settings: Settings) -> pd.DataFrame:
    """
    Add ``residual`` and ``stops_lost``.

    Parameters
    ----------
    frames : DataFrame
        With ``setting_verdict``, ``is_stabilised``, ``setting_mm`` and ``right_setting_mm``.
    kit, settings
        The photographer's files; the exponent of the hand's shake turns stops into a share of blur.

    Returns
    -------
    DataFrame
        Same rows, same order; NaN where the setting or the right one is not known. A lens with contacts is taken
        to be corrected as well as the body can.
    """
    bodies = {body.id: body for body in kit.bodies}
    exponent = settings.hand.exponent
    stops = _stops(frames, bodies).to_numpy()
    contacts = frames["has_contacts"].to_numpy(bool)
    setting = np.where(contacts, 1.0, frames["setting_mm"].to_numpy(np.float64))
    right = np.where(contacts, 1.0, frames["right_setting_mm"].to_numpy(np.float64))
    left = np.asarray(residual(setting, right, stops, exponent=exponent))
    lost = np.asarray(stops_lost(left, stops, exponent=exponent))
    off = ~frames["is_stabilised"].to_numpy(bool)
    return frames.assign(
        residual=np.where(off, 1.0, left),
        stops_lost=np.where(off, np.nan, np.maximum(lost, 0.0)),
    )


def _stops(frames: pd.DataFrame, bodies: dict[str, Body]) -> pd.Series:
    return frames["body"].map({body_id: body.stabiliser_stops for body_id, body in bodies.items()}).astype("float64")


def _stabiliser_was_on(frames: pd.DataFrame) -> Bools:
    """Take what the maker note says, else the log, else on: what a stabilised body does unless told otherwise."""
    noted = frames["stabiliser_on"].astype("boolean")
    recorded = frames["stabiliser_mode"].map(lambda mode: mode != "off", na_action="ignore").astype("boolean")
    return recorded.fillna(noted).fillna(True).to_numpy(bool)


def _against_range(frames: pd.DataFrame, tolerance: float) -> tuple[Bools, Bools, Bools]:
    setting = frames["setting_mm"].to_numpy(np.float64)
    best = frames["right_setting_mm"].to_numpy(np.float64)
    right = (setting >= best * (1 - tolerance) / _SLACK) & (setting <= best * (1 + tolerance) * _SLACK)
    too_short = setting < frames["right_setting_low_mm"].to_numpy(np.float64) * (1 - tolerance) / _SLACK
    too_long = setting > frames["right_setting_high_mm"].to_numpy(np.float64) * (1 + tolerance) * _SLACK
    return right, too_short, too_long


def _is_open_zoom(frames: pd.DataFrame, kit: Kit) -> Bools:
    zooms = [lens.id for lens in kit.lenses if lens.is_zoom]
    return (frames["lens"].isin(zooms) & frames["logged_focal_mm"].isna()).to_numpy(bool)


def _for_open_zoom(
    frames: pd.DataFrame, zoom: Bools, tolerance: float, verdicts: tuple[Bools, Bools, Bools]
) -> tuple[Bools, Bools, Bools]:
    """Replace the verdicts where a zoom's position was not noted: its short end is what should be typed."""
    setting = frames["setting_mm"].to_numpy(np.float64)
    short = frames["right_setting_mm"].to_numpy(np.float64)
    within = (setting >= short / 2) & (setting <= short * (1 + tolerance) * _SLACK)
    right, too_short, too_long = verdicts
    return (
        np.where(zoom, within, right),
        np.where(zoom, setting < short / 2, too_short),
        np.where(zoom, setting > short * (1 + tolerance) * _SLACK, too_long),
    )


def _is_nearest_on_menu(frames: pd.DataFrame, bodies: dict[str, Body]) -> Bools:
    """Whether the setting is the nearest that the body's menu offers: nobody can type better."""
    nearest = np.zeros(len(frames), bool)
    setting = frames["setting_mm"].to_numpy(np.float64)
    best = frames["right_setting_mm"].to_numpy(np.float64)
    for body_id, body in bodies.items():
        if not body.setting_values_mm:
            continue
        rows = np.flatnonzero((frames["body"] == body_id).fillna(False).to_numpy(bool) & ~np.isnan(best))
        nearest[rows] = np.isclose(setting[rows], nearest_on_menu(best[rows], body.setting_values_mm), rtol=1e-6)
    return nearest


def nearest_on_menu(right_mm: npt.NDArray[np.float64], menu_mm: Sequence[float]) -> npt.NDArray[np.float64]:
    """
    Return the value of a body's menu with the smallest relative error |1 - g|.

    Examples
    --------
    >>> nearest_on_menu(np.array([57.3]), (50.0, 60.0))
    array([60.])
    """
    menu = np.asarray(sorted(menu_mm))
    places = np.abs(menu[np.newaxis, :] / right_mm[:, np.newaxis] - 1).argmin(axis=1)
    return np.asarray(menu[places], dtype=np.float64)
