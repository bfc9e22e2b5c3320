"""The flagged frames, each with its reason in words."""

from __future__ import annotations

import pandas as pd

from dashboards import words
from dashboards.desk import Desk
from dashboards.filters import Filters

__all__ = ["flagged_frames"]

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


def flagged_frames(
    desk: Desk, filters: Filters, start: int, end: int, *, with_cost: bool = True, aside: bool = False
) -> pd.DataFrame:
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
    aside : bool
        Those that were put aside instead.

    Returns
    -------
    pandas.DataFrame
        The audit's columns of interest, ``place`` (in the desk) and ``reason``. ``attrs["total"]`` is
        the length of the whole list.
    """
    places = desk.flagged_places(filters, aside=aside)
    shown = places[max(start, 0) : max(end, 0)]
    frames = desk.frames.iloc[shown][_FLAGGED_COLUMNS].copy()
    frames["place"] = shown
    frames["reason"] = [words.reason(record, with_cost=with_cost) for record in frames.to_dict("records")]
    frames.attrs["total"] = len(places)
    return frames
