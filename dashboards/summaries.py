"""What the pages tell, as small tables made from the desk: one row a lens, a day, a run of frames."""

from __future__ import annotations

from typing import Literal, TypeAlias

import numpy as np
import pandas as pd

from auditor.stats.intervals import wilson
from dashboards import words
from dashboards.desk import Desk
from dashboards.filters import NOT_KNOWN, Filters

__all__ = ["Grouping", "flagged_frames", "keep_rates", "opening", "verdicts_over_time"]

Grouping: TypeAlias = Literal["lens", "body", "adapter", "trip"]

_DAYS_IN_ONE_CHART = 40
_MONTHS_IN_ONE_CHART = 48

_FLAGGED_COLUMNS = [
    "archive",
    "path",
    "captured_at",
    "body",
    "lens",
    "adapter",
    "exposure_time_s",
    "setting_mm",
    "right_setting_mm",
    "setting_verdict",
    "setting_cause",
    "stops_lost",
    "blur_probability",
    "rating",
    "flags",
]


def keep_rates(desk: Desk, filters: Filters, by: Grouping = "lens") -> pd.DataFrame:
    """
    Count how many frames were kept, by lens, body, adapter or trip.

    Parameters
    ----------
    desk : Desk
    filters : Filters
    by : str
        Column to group by.

    Returns
    -------
    pandas.DataFrame
        Columns ``key, name, frames, judged, kept, keep_rate, low, high``; the most judged first, what is
        not known last. A trip
        that was never judged counts in ``frames`` alone. ``low`` and ``high`` are the Wilson interval at
        95 %, NaN where nothing was judged.
    """
    frames = desk.rows(filters, [by, "kept"])
    codes = frames[by].cat.codes.to_numpy().astype(np.int64)
    codes[codes < 0] = len(frames[by].cat.categories)
    keys = [*frames[by].cat.categories, NOT_KNOWN]
    judged = frames["kept"].notna().to_numpy()
    kept = frames["kept"].fillna(False).to_numpy(dtype=bool)
    rates = pd.DataFrame(
        {
            "key": keys,
            "name": [desk.name(by, key) for key in keys],
            "frames": np.bincount(codes, minlength=len(keys)),
            "judged": np.bincount(codes[judged], minlength=len(keys)),
            "kept": np.bincount(codes[kept], minlength=len(keys)),
        }
    )
    rates["unknown"] = rates["key"] == NOT_KNOWN
    order = ["unknown", "judged", "frames", "name"]
    rates = rates[rates["frames"] > 0].sort_values(order, ascending=[True, False, False, True])
    return _with_rate(rates.drop(columns="unknown").reset_index(drop=True))


def _with_rate(counts: pd.DataFrame) -> pd.DataFrame:
    kept = counts["kept"].to_numpy(dtype=float)
    judged = counts["judged"].astype(float).where(counts["judged"] > 0).to_numpy()  # nothing judged: no rate
    low, high = wilson(kept, judged)
    return counts.assign(keep_rate=kept / judged, low=low, high=high)


def verdicts_over_time(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Count setting verdicts by shooting day, or by month or year where there are too many days to read.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        Columns ``start, period, setting_verdict, frames``, in order of time; periods without a frame are
        left out. ``attrs["without_time"]`` counts frames that have no time.
    """
    frames = desk.rows(filters, ["captured_at", "setting_verdict"])
    days = frames["captured_at"].to_numpy().astype("datetime64[D]")
    timed = ~np.isnat(days)
    start, written = _periods(days[timed])
    one_year = len(np.unique(days[timed].astype("datetime64[Y]"))) == 1
    verdicts = frames["setting_verdict"].cat
    codes = verdicts.codes.to_numpy().astype(np.int64)[timed]
    codes[codes < 0] = len(verdicts.categories)
    keys = [*verdicts.categories, "unknown"]
    found, place = np.unique(start, return_inverse=True)
    counts = np.bincount(place * len(keys) + codes, minlength=len(found) * len(keys)).reshape(len(found), len(keys))
    table = pd.DataFrame(
        {
            "start": np.repeat(found, len(keys)).astype("datetime64[s]"),
            "period": np.repeat([_written(day, written, one_year=one_year) for day in found], len(keys)),
            "setting_verdict": np.tile(np.array(keys, dtype=object), len(found)),
            "frames": counts.ravel(),
        }
    )
    by_verdict = table.groupby(["start", "period", "setting_verdict"], sort=False)["frames"].sum().reset_index()
    table = by_verdict.loc[by_verdict["frames"] > 0].reset_index(drop=True)
    table.attrs["without_time"] = int((~timed).sum())
    return table


def _periods(days: np.ndarray) -> tuple[np.ndarray, str]:
    """Return the start of each day's period, and how the periods are written."""
    if len(np.unique(days)) <= _DAYS_IN_ONE_CHART:
        return days, "day"
    months = days.astype("datetime64[M]")
    if len(np.unique(months)) <= _MONTHS_IN_ONE_CHART:
        return months.astype("datetime64[D]"), "month"
    return days.astype("datetime64[Y]").astype("datetime64[D]"), "year"


def _written(start: np.datetime64, period: str, *, one_year: bool) -> str:
    day = pd.Timestamp(start)
    if period == "year":
        return f"{day.year}"
    month = f"{day:%b}" if one_year else f"{day:%b %Y}"
    return month if period == "month" else f"{day.day} {month}"


def flagged_frames(desk: Desk, filters: Filters, start: int, end: int) -> pd.DataFrame:
    """
    Return some of the flagged frames, the worst first, with the reason in words.

    Parameters
    ----------
    desk : Desk
    filters : Filters
    start, end : int
        Places in the list, end exclusive.

    Returns
    -------
    pandas.DataFrame
        The audit's columns of interest, ``place`` (in the desk) and ``reason``. ``attrs["total"]`` is
        the length of the whole list.
    """
    places = desk.flagged_places(filters)
    shown = places[max(start, 0) : max(end, 0)]
    frames = desk.frames.iloc[shown][_FLAGGED_COLUMNS].copy()
    frames["place"] = shown
    frames["reason"] = [words.reason(record) for record in frames.to_dict("records")]
    frames.attrs["total"] = len(places)
    return frames


def opening(desk: Desk, filters: Filters) -> str:
    """
    Say in two sentences what was shot and how much of it was set wrong.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    str
    """
    frames = desk.rows(filters, ["captured_at", "trip", "setting_verdict", "stops_lost"])
    taken = frames["captured_at"]
    trips = int(frames["trip"].nunique())
    told = words.count_of(len(frames), "frame")
    told += f" in {words.count_of(trips, 'trip')}" if trips > 1 else ""
    told += f", {words.days(taken.min(), taken.max())}" if taken.notna().any() else ""
    wrong = frames["setting_verdict"].isin(["too-short", "too-long"])
    if not wrong.any():
        return f"{told}. No wrong setting was found."
    lost = frames["stops_lost"][wrong].median()
    cost = f"; half of them lost {words.stops(float(lost))} or more" if np.isfinite(lost) else ""
    return f"{told}. On {words.count_of(int(wrong.sum()), 'frame')} the stabiliser's setting was wrong{cost}."
