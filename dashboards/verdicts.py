"""Verdicts on the stabiliser's setting: over time, by lens and cause, typed against right."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from dashboards import words
from dashboards.desk import Desk, codes_of
from dashboards.filters import NOT_KNOWN, Filters
from dashboards.rates import Grouping

__all__ = ["causes", "opening", "settings_by_adapter", "typed_and_right", "verdicts_by", "verdicts_over_time"]

Days = npt.NDArray[np.datetime64]

_WRONG = ("too-short", "too-long")

_MOST_MARKS = 400

_DAYS_IN_ONE_CHART = 40

_MONTHS_IN_ONE_CHART = 48


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
    found, place = _distinct(start)
    one_year = len({str(day)[:4] for day in found}) == 1
    codes = codes_of(frames["setting_verdict"])[timed]
    keys = [*frames["setting_verdict"].cat.categories, "unknown"]
    counts = np.bincount(place * len(keys) + codes, minlength=len(found) * len(keys))
    table = pd.DataFrame(
        {
            "start": np.repeat(found, len(keys)).astype("datetime64[s]"),
            "period": np.repeat([_written(day, written, one_year=one_year) for day in found], len(keys)),
            "setting_verdict": np.tile(np.array(keys, dtype=object), len(found)),
            "frames": counts,
        }
    )
    by_verdict = table.groupby(["start", "period", "setting_verdict"], sort=False)["frames"].sum().reset_index()
    table = by_verdict.loc[by_verdict["frames"] > 0].reset_index(drop=True)
    table.attrs["without_time"] = int((~timed).sum())
    return table


def _periods(days: Days) -> tuple[Days, str]:
    """Return the start of each day's period, and how the periods are written."""
    shot_on, _ = _distinct(days)
    if len(shot_on) <= _DAYS_IN_ONE_CHART:
        return days, "day"
    if len(np.unique(shot_on.astype("datetime64[M]"))) <= _MONTHS_IN_ONE_CHART:
        return days.astype("datetime64[M]").astype("datetime64[D]"), "month"
    return days.astype("datetime64[Y]").astype("datetime64[D]"), "year"


def _distinct(days: Days) -> tuple[Days, npt.NDArray[np.int64]]:
    """Return the days that occur, in order, and the place of each day among them; counted, since sorting is slow."""
    numbers = days.astype(np.int64)
    least = int(numbers.min()) if len(numbers) else 0
    occurs = np.bincount(numbers - least) > 0
    place = np.cumsum(occurs) - 1
    return (np.flatnonzero(occurs) + least).astype("datetime64[D]"), place[numbers - least]


def _written(start: np.datetime64, period: str, *, one_year: bool) -> str:
    day = pd.Timestamp(start)
    if period == "year":
        return f"{day.year}"
    month = f"{day:%b}" if one_year else f"{day:%b %Y}"
    return month if period == "month" else f"{day.day} {month}"


def verdicts_by(desk: Desk, filters: Filters, by: Grouping) -> pd.DataFrame:
    """
    Count setting verdicts by lens, body, adapter or trip.

    Parameters
    ----------
    desk : Desk
    filters : Filters
    by : str
        Column to group by.

    Returns
    -------
    pandas.DataFrame
        ``key, name, setting_verdict, frames, share`` (of the group's frames), the group with the largest
        share of wrong settings first.
    """
    frames = desk.rows(filters, [by, "setting_verdict"])
    keys = [*frames[by].cat.categories, NOT_KNOWN]
    verdicts = [*frames["setting_verdict"].cat.categories, "unknown"]
    flat = codes_of(frames[by]) * len(verdicts) + codes_of(frames["setting_verdict"])
    table = pd.DataFrame(
        {
            "key": np.repeat(np.array(keys, dtype=object), len(verdicts)),
            "name": np.repeat(np.array([desk.name(by, key) for key in keys], dtype=object), len(verdicts)),
            "setting_verdict": np.tile(np.array(verdicts, dtype=object), len(keys)),
            "frames": np.bincount(flat, minlength=len(keys) * len(verdicts)),
        }
    )
    table = table.groupby(["key", "name", "setting_verdict"], sort=False)["frames"].sum().reset_index()
    in_group = table.groupby("key")["frames"].transform("sum")
    table = table.assign(share=table["frames"] / in_group.where(in_group > 0))
    wrong_share = table["share"].where(table["setting_verdict"].isin(_WRONG), 0)
    table = table.assign(wrong=wrong_share.groupby(table["key"]).transform("sum"))
    table = table.loc[table["frames"] > 0].sort_values(["wrong", "name"], ascending=[False, True], kind="stable")
    return table.drop(columns="wrong").reset_index(drop=True)


def causes(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Count the frames with a wrong setting by its cause.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        ``setting_cause, frames, stops_lost`` (median, NaN where none is known), the most frequent first.
    """
    frames = desk.rows(filters, ["setting_cause", "stops_lost", "setting_verdict"])
    wrong = frames[frames["setting_verdict"].isin(_WRONG).to_numpy()]
    grouped = wrong.groupby("setting_cause", observed=True)["stops_lost"]
    table = pd.DataFrame({"frames": grouped.size(), "stops_lost": grouped.median()}).reset_index()
    return table.sort_values(["frames", "setting_cause"], ascending=[False, True]).reset_index(drop=True)


def typed_and_right(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Count the frames by what was typed and what would have been right, to the millimetre.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        ``setting_mm, right_setting_mm, setting_verdict, lens, name, frames``, the most frequent first, at
        most 400 rows; ``attrs["left_out"]`` counts the frames beyond.
    """
    columns = ["setting_mm", "right_setting_mm", "setting_verdict", "lens"]
    frames = desk.rows(filters, columns)
    both = frames[(frames["setting_mm"].notna() & frames["right_setting_mm"].notna()).to_numpy()]
    rounded = both.assign(setting_mm=both["setting_mm"].round(), right_setting_mm=both["right_setting_mm"].round())
    pairs = rounded.groupby(columns, observed=True).size().rename("frames").reset_index()
    pairs = pairs.sort_values("frames", ascending=False, kind="stable").reset_index(drop=True)
    shown = pairs.head(_MOST_MARKS)
    shown = shown.assign(name=[desk.name("lens", str(lens)) for lens in shown["lens"]])
    shown.attrs["left_out"] = int(pairs["frames"].sum() - shown["frames"].sum())
    return shown


def settings_by_adapter(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Count frames by adapter, right setting, typed setting, verdict and cause, to a tenth of a millimetre.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        ``adapter, right_setting_mm, setting_mm, setting_verdict, setting_cause, name, frames``, the most
        frequent first.
    """
    columns = ["adapter", "right_setting_mm", "setting_mm", "setting_verdict", "setting_cause"]
    frames = desk.rows(filters, columns)
    both = frames[(frames["setting_mm"].notna() & frames["right_setting_mm"].notna()).to_numpy()]
    rounded = both.assign(
        setting_mm=both["setting_mm"].astype(float).round(1),
        right_setting_mm=both["right_setting_mm"].astype(float).round(1),
    )
    pairs = rounded.groupby(columns, observed=True, dropna=False).size().rename("frames").reset_index()
    pairs = pairs.sort_values("frames", ascending=False, kind="stable").reset_index(drop=True)
    names = [desk.name("adapter", NOT_KNOWN if pd.isna(adapter) else str(adapter)) for adapter in pairs["adapter"]]
    return pairs.assign(name=names)


def opening(desk: Desk, filters: Filters) -> str:
    """
    Say in a few sentences what was shot and how much of it was set wrong.

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
    wrong = frames["setting_verdict"].isin(_WRONG)
    untold = int((frames["setting_verdict"] == "unknown").sum())
    but = f" Of {words.count_of(untold, 'frame')} it cannot be told." if untold else ""
    if not wrong.any():
        return f"{told}. No wrong setting was found.{but}"
    lost = frames["stops_lost"][wrong].median()
    cost = f"; half of them lost {words.stops(float(lost))} or more" if np.isfinite(lost) else ""
    return f"{told}. On {words.count_of(int(wrong.sum()), 'frame')} the stabiliser's setting was wrong{cost}.{but}"
