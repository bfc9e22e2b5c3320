"""What the rows of the ledger can be: lens, pairing, body, trip, and bands of what was used."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from typing import TypeAlias

import numpy as np
import pandas as pd

__all__ = ["FOCAL_BANDS_MM", "GROUPINGS", "GROUPING_MEANS", "ORDERED", "group_of"]

GROUPING_MEANS: Mapping[str, str] = {
    "lens": "the lens",
    "pairing": "the lens with the adapter it was used on",
    "body": "the body",
    "trip": "the trip",
    "focal": "effective focal length, adapter factor included, at infinity; lower end of a band included",
    "aperture": "f-number to the nearest whole stop, from Exif or else from the log",
    "distance": "focus distance, from the log or else from Exif; lower end of a band included",
    "time": "month in which it was taken",
    "exposure": "exposure time to the nearest whole stop",
}
"""Each grouping and what its rows are, for a screen."""

GROUPINGS = tuple(GROUPING_MEANS)

ORDERED = frozenset({"focal", "aperture", "distance", "time", "exposure"})
"""Groupings whose rows have an order of their own; the others come with the most judged first."""

FOCAL_BANDS_MM = (0, 18, 24, 35, 50, 70, 105, 200, 400, np.inf)
"""Edges of the focal bands: effective focal length, lower end included. [mm]."""

_DISTANCE_BANDS_M = (0, 0.5, 1, 2, 5, 10, np.inf)
_FAR_M = 1000.0  # infinity falls into the last band
_F_NUMBERS = ("0.7", "1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32", "45")
_TIMES = ("30", "15", "8", "4", "2", "1", "1/2", "1/4", "1/8", "1/15", "1/30", "1/60", "1/125", "1/250", "1/500",
          "1/1000", "1/2000", "1/4000", "1/8000")  # fmt: skip

Column: TypeAlias = pd.Series


def group_of(frames: pd.DataFrame, by: str) -> pd.Series:
    """
    Return the group of each frame, missing where it is not known.

    Parameters
    ----------
    frames : DataFrame
        The audit's columns; ``focal_length_mm`` for the focal band of a lens with contacts, ``f_number`` and
        ``logged_aperture`` for the aperture, ``focus_distance_m`` or ``subject_distance_m`` for the distance,
        ``captured_at`` for the time, ``exposure_time_s``. A column that is made already (a category of that name) is
        taken as it is.
    by : str
        One of ``GROUPINGS``.

    Returns
    -------
    Series
        Categories in their order, or text.

    Raises
    ------
    ValueError
        The grouping is not one of ``GROUPINGS``.

    Examples
    --------
    >>> group_of(pd.DataFrame({"exposure_time_s": [1 / 50, 1 / 128, None]}), "exposure").tolist()
    ['1/60 s', '1/125 s', nan]
    """
    if by not in GROUPING_MEANS:
        raise ValueError(f"by = {by!r} should be one of {', '.join(GROUPINGS)}")
    made = _MADE.get(by)
    return frames[by] if made is None or by in frames.columns else made(frames)


def _pairing(frames: pd.DataFrame) -> Column:
    adapter = frames["adapter"]
    return (frames["lens"] + " + " + adapter).mask(adapter == "", frames["lens"]).where(adapter.notna())


def _focal(frames: pd.DataFrame) -> Column:
    focal_mm = frames["right_setting_low_mm"].fillna(frames["focal_length_mm"].where(frames["lens"].notna()))
    return _bands(focal_mm, FOCAL_BANDS_MM, "mm")


def _distance(frames: pd.DataFrame) -> Column:
    noted = frames["focus_distance_m"] if "focus_distance_m" in frames.columns else frames["subject_distance_m"]
    return _bands(noted.clip(upper=_FAR_M), _DISTANCE_BANDS_M, "m")


def _bands(values: Column, edges: tuple[float, ...], unit: str) -> Column:
    names = [
        f"{low:g}-{high:g} {unit}"
        if np.isfinite(high)
        else f"{low:g} {unit} and {'longer' if unit == 'mm' else 'more'}"
        for low, high in itertools.pairwise(edges)
    ]
    return pd.cut(values, list(edges), right=False, labels=names)


def _aperture(frames: pd.DataFrame) -> Column:
    f_number = frames["f_number"]
    if "logged_aperture" in frames.columns:
        f_number = f_number.fillna(frames["logged_aperture"])
    return _nearest_stop(2.0 * np.log2(f_number.where(f_number > 0)), -1, [f"f/{number}" for number in _F_NUMBERS])


def _exposure(frames: pd.DataFrame) -> Column:
    time_s = frames["exposure_time_s"]
    return _nearest_stop(-np.log2(time_s.where(time_s > 0)), -5, [f"{time} s" for time in _TIMES])


def _nearest_stop(stops: Column, first: int, names: list[str]) -> Column:
    """Name the nearest whole stop; what lies beyond the scale's ends takes their names."""
    place = (stops.round() - first).clip(0, len(names) - 1)
    codes = place.fillna(-1).astype(np.int64).to_numpy()
    return pd.Series(pd.Categorical.from_codes(codes, pd.Index(names), ordered=True), index=stops.index)


def _time(frames: pd.DataFrame) -> Column:
    months: Column = frames["captured_at"].dt.strftime("%Y-%m").astype("category")
    return months


_MADE: Mapping[str, Callable[[pd.DataFrame], Column]] = {
    "pairing": _pairing,
    "focal": _focal,
    "distance": _distance,
    "aperture": _aperture,
    "exposure": _exposure,
    "time": _time,
}
