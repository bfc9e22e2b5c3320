"""Trips: runs of shooting days with one purpose, split by gaps and nameable."""

from __future__ import annotations

import numpy as np
import pandas as pd

from auditor.audit.times import shortest_pauses, trusted_offsets
from auditor.model.settings import Trips

__all__ = ["add_trip"]


def add_trip(frames: pd.DataFrame, trips: Trips) -> pd.DataFrame:
    """
    Add the column ``trip``.

    A frame within the days of a named trip gets its name. The others fall into trips wherever a pause longer
    than the gap lies between two of them, over all bodies together, and are called by their first day. A pause that
    only looks longer because the clock leapt, for summer time or a zone, does not count as longer.

    Parameters
    ----------
    frames : DataFrame
        With ``at``, the corrected local time; a frame without one has no trip. With ``offset_minutes`` where the
        offset from UTC was recorded.
    trips : Trips
        Gap and names, from settings.toml.

    Returns
    -------
    DataFrame
        Same rows, same order.

    Examples
    --------
    >>> days = pd.DataFrame({"at": pd.to_datetime(["2026-05-01 10:00", "2026-05-02 09:00", "2026-05-09 09:00"])})
    >>> add_trip(days, Trips(gap_hours=36))["trip"].tolist()
    ['2026-05-01', '2026-05-01', '2026-05-09']
    """
    trip = pd.Series(pd.NA, index=frames.index, dtype="str")
    for named in trips.named:
        within = frames["at"].dt.normalize().between(pd.Timestamp(named.first_day), pd.Timestamp(named.last_day))
        trip = trip.mask(within & trip.isna(), named.name)
    rest = frames.loc[trip.isna() & frames["at"].notna(), "at"].sort_values(kind="stable")
    if len(rest):
        offset = np.asarray(pd.Series(trusted_offsets(frames), index=frames.index)[rest.index], dtype=np.float64)
        pauses = shortest_pauses(rest.to_numpy("datetime64[us]"), offset)
        begins = np.append(True, pauses > pd.Timedelta(hours=trips.gap_hours).to_timedelta64())
        first_days = rest.dt.strftime("%Y-%m-%d").to_numpy()[np.flatnonzero(begins)]
        trip.loc[rest.index] = first_days[np.cumsum(begins) - 1]
    return frames.assign(trip=trip)
