"""What the pages tell, as small tables made from the desk: one row a lens, a day, a run of frames."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.stats.intervals import wilson
from dashboards import words
from dashboards.desk import Desk
from dashboards.filters import NOT_KNOWN, Filters

__all__ = [
    "Grouping",
    "causes",
    "flagged_frames",
    "keep_rates",
    "keep_rates_by_aperture",
    "keep_rates_by_slowness",
    "opening",
    "typed_and_right",
    "verdicts_by",
    "verdicts_over_time",
]

Grouping: TypeAlias = Literal["lens", "body", "adapter", "trip"]

_WRONG = ("too-short", "too-long")
_MOST_MARKS = 400
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
    codes = _codes(frames[by])
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
    codes = _codes(frames["setting_verdict"])[timed]
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


def flagged_frames(desk: Desk, filters: Filters, start: int, end: int, *, with_cost: bool = True) -> pd.DataFrame:
    """
    Return some of the flagged frames, the worst first, with the reason in words.

    Parameters
    ----------
    desk : Desk
    filters : Filters
    start, end : int
        Places in the list, end exclusive.
    with_cost : bool
        Whether the reason tells the cost.

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
    frames["reason"] = [words.reason(record, with_cost=with_cost) for record in frames.to_dict("records")]
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
    wrong = frames["setting_verdict"].isin(_WRONG)
    if not wrong.any():
        return f"{told}. No wrong setting was found."
    lost = frames["stops_lost"][wrong].median()
    cost = f"; half of them lost {words.stops(float(lost))} or more" if np.isfinite(lost) else ""
    return f"{told}. On {words.count_of(int(wrong.sum()), 'frame')} the stabiliser's setting was wrong{cost}."


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
    flat = _codes(frames[by]) * len(verdicts) + _codes(frames["setting_verdict"])
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


def _codes(column: pd.Series[str]) -> npt.NDArray[np.int64]:
    codes = column.cat.codes.to_numpy().astype(np.int64)
    codes[codes < 0] = len(column.cat.categories)
    return codes


def keep_rates_by_slowness(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Count kept frames by how many stops the exposure was slower than one second over the right setting in mm.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        As ``keep_rates``, ``key`` the whole number of stops, in order; ``attrs["left_out"]`` counts the
        frames for which it is not known.

    Notes
    -----
    The rule of one over the focal length is common practice; here it is only a ruler, with the focal
    length at the sensor's side that the stabiliser needs too.
    """
    frames = desk.rows(filters, ["exposure_time_s", "right_setting_mm", "kept"])
    with np.errstate(divide="ignore", invalid="ignore"):
        slower = np.log2(frames["exposure_time_s"].to_numpy(float) * frames["right_setting_mm"].to_numpy(float))
    return _rates_by_step(frames["kept"], np.round(slower), _signed)


def _signed(stop: int) -> str:
    return f"{stop:+d}".replace("-", "−") if stop else "0"


def keep_rates_by_aperture(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Count kept frames by aperture, to the nearest whole stop.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        As ``keep_rates``, ``key`` the stop (0 is f/1), in order; ``attrs["left_out"]`` counts the frames
        without a recorded aperture, which is all those of lenses without contacts.
    """
    frames = desk.rows(filters, ["f_number", "kept"])
    with np.errstate(divide="ignore", invalid="ignore"):
        stop = np.round(2 * np.log2(frames["f_number"].to_numpy(float)))
    return _rates_by_step(frames["kept"], stop, lambda whole: f"f/{_F_NUMBERS.get(whole, round(2 ** (whole / 2)))}")


_F_NUMBERS: Mapping[int, str] = MappingProxyType(
    dict(enumerate(["1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32"]))
)


def _rates_by_step(kept: pd.Series[bool], step: npt.NDArray[np.float64], named: Callable[[int], str]) -> pd.DataFrame:
    known = np.isfinite(step)
    steps, place = np.unique(step[known].astype(np.int64), return_inverse=True)
    judged, kept_at = kept.notna().to_numpy()[known], kept.fillna(False).to_numpy(dtype=bool)[known]
    counts = pd.DataFrame(
        {
            "key": steps,
            "name": [named(int(whole)) for whole in steps],
            "frames": np.bincount(place, minlength=len(steps)),
            "judged": np.bincount(place[judged], minlength=len(steps)),
            "kept": np.bincount(place[kept_at], minlength=len(steps)),
        }
    )
    rates = _with_rate(counts)
    rates.attrs["left_out"] = int((~known).sum())
    return rates
