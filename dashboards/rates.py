"""Keep rates, and beside them sharp ones, as counted: by lens, body, adapter, trip, slowness and aperture."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from dashboards.desk import Desk, codes_of
from dashboards.filters import NOT_KNOWN, Filters
from dashboards.sharp_rates import Codes, counted, sharp_of, with_rates

__all__ = ["Grouping", "keep_rates", "keep_rates_by_aperture", "keep_rates_by_slowness", "lenses_at_a_glance"]

Grouping: TypeAlias = Literal["lens", "body", "adapter", "trip"]

_WRONG = ("too-short", "too-long")


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
        Columns ``key, name, frames, judged, kept, keep_rate, low, high``; the most judged first, what is not known
        last. A trip that was never judged counts in ``frames`` alone. ``low`` and ``high`` are the Wilson interval at
        95 %, NaN where nothing was judged. Where frames were measured also ``sharp`` of ``sharp_judged`` with
        ``sharp_rate, sharp_low, sharp_high`` (`dashboards.sharp_rates`).
    """
    frames = desk.rows(filters, [by, "kept"])
    keys = [*frames[by].cat.categories, NOT_KNOWN]
    rates = pd.DataFrame({"key": keys, "name": [desk.name(by, key) for key in keys]})
    rates = pd.concat(
        [rates, counted(codes_of(frames[by]), len(keys), frames["kept"], sharp_of(desk, filters))], axis=1
    )
    rates["unknown"] = rates["key"] == NOT_KNOWN
    order = ["unknown", "judged", "frames", "name"]
    rates = rates[rates["frames"] > 0].sort_values(order, ascending=[True, False, False, True])
    return with_rates(rates.drop(columns="unknown").reset_index(drop=True))


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
    return _rates_by_step(frames["kept"], sharp_of(desk, filters), np.round(slower), _signed)


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
    return _rates_by_step(frames["kept"], sharp_of(desk, filters), stop, _f_number)


_F_NUMBERS: Mapping[int, str] = MappingProxyType(
    dict(enumerate(["1", "1.4", "2", "2.8", "4", "5.6", "8", "11", "16", "22", "32"]))
)


def _f_number(stop: int) -> str:
    return f"f/{_F_NUMBERS.get(stop, round(2 ** (stop / 2)))}"


def _rates_by_step(
    kept: pd.Series[bool],
    sharp: Codes | None,
    step: npt.NDArray[np.float64],
    named: Callable[[int], str],
) -> pd.DataFrame:
    known = np.isfinite(step)
    found = step[known].astype(np.int64)
    least, most = (int(found.min()), int(found.max())) if len(found) else (0, -1)
    steps = np.arange(least, most + 1)  # also those without a frame, so that the scale is whole
    scale = pd.DataFrame({"key": steps, "name": [named(int(whole)) for whole in steps]})
    counts = counted(found - least, len(steps), kept[known], None if sharp is None else sharp[known])
    rates = with_rates(pd.concat([scale, counts], axis=1))
    rates.attrs["left_out"] = int((~known).sum())
    return rates


def lenses_at_a_glance(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Return the lenses with their frames, wrong settings, keep rate and last use, the most used first.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        As ``keep_rates``, with ``wrong`` (frames) and ``last`` (time of the last frame, NaT without any).
    """
    frames = desk.rows(filters, ["lens", "setting_verdict", "captured_at"])
    codes = codes_of(frames["lens"])
    keys = [*frames["lens"].cat.categories, NOT_KNOWN]
    wrong = frames["setting_verdict"].isin(_WRONG).to_numpy()
    last = frames["captured_at"].groupby(codes).max()
    more = pd.DataFrame(
        {
            "key": keys,
            "wrong": np.bincount(codes[wrong], minlength=len(keys)),
            "last": last.reindex(range(len(keys))).to_numpy(),
        }
    )
    rates = keep_rates(desk, filters, "lens").merge(more, on="key", how="left", validate="one_to_one")
    return rates.sort_values("frames", ascending=False, kind="stable").reset_index(drop=True)
