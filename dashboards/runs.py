"""Runs of frames shot one after the other with the same lens, adapter and setting."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from dashboards.desk import Desk, codes_of
from dashboards.filters import Filters

__all__ = ["mounted_runs", "run_around", "trips_at_a_glance", "wrong_stretches"]

_SAME = ("trip", "body", "lens", "adapter", "setting_verdict")
_READ = (*_SAME, "setting_mm", "setting_cause", "captured_at", "right_setting_mm", "stops_lost", "blur_verdict")
_WRONG = ("too-short", "too-long")


def mounted_runs(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Gather neighbouring frames with the same lens, adapter, setting and verdict into runs.

    Parameters
    ----------
    desk : Desk
    filters : Filters
        Frames without a time belong to no run.

    Returns
    -------
    pandas.DataFrame
        One row a run, body by body, in order of time: ``first, last`` (times), ``first_at, last_at`` (place
        among all frames shown, by time, from 0), ``frames, trip, body, lens, adapter, setting_mm,
        right_setting_mm`` (median)``, setting_verdict, setting_cause`` (of its first frame)``, stops_lost``
        (median)``, blur_likely`` (frames) and ``lost_in_all`` (sum of the stops lost).
    """
    places = desk.places_in_order(filters)
    frames = desk.frames[list(_READ)].iloc[places]
    starts = _starts(frames)
    run = np.repeat(np.arange(len(starts)), np.diff([*starts, len(frames)]))
    taken = frames["captured_at"].to_numpy()
    at = np.empty(len(frames), dtype=np.int64)
    at[np.argsort(desk.steady_at[places], kind="stable")] = np.arange(len(frames))
    ends = np.append(starts[1:], len(frames)) - 1 if len(starts) else starts
    runs = frames.iloc[starts][[*_SAME, "setting_mm", "setting_cause"]].reset_index(drop=True)
    numbers = frames[["right_setting_mm", "stops_lost"]].groupby(run)
    lost = np.nan_to_num(frames["stops_lost"].to_numpy(dtype=float), nan=0.0)
    likely = (frames["blur_verdict"] == "likely").to_numpy(dtype=float)
    return runs.assign(
        # Not the first and the last frame: a run over the end of summer time ends earlier by the clock than it began.
        first=np.minimum.reduceat(taken, starts) if len(starts) else taken[starts],
        last=np.maximum.reduceat(taken, starts) if len(starts) else taken[ends],
        first_at=at[starts],
        last_at=at[ends],
        frames=np.bincount(run, minlength=len(starts)),
        right_setting_mm=numbers["right_setting_mm"].median().to_numpy(),
        stops_lost=numbers["stops_lost"].median().to_numpy(),
        lost_in_all=np.bincount(run, weights=lost, minlength=len(starts)),
        blur_likely=np.bincount(run, weights=likely, minlength=len(starts)).astype(int),
    )


def _starts(frames: pd.DataFrame) -> npt.NDArray[np.int64]:
    """Return where a run begins: something differs from the frame before."""
    if frames.empty:
        return np.empty(0, dtype=np.int64)
    differs = np.zeros(len(frames) - 1, dtype=bool)
    for column in _SAME:
        differs |= np.diff(frames[column].cat.codes.to_numpy()) != 0
    typed = np.nan_to_num(frames["setting_mm"].to_numpy(), nan=-1.0)
    differs |= np.diff(typed) != 0
    return np.concatenate([[0], np.flatnonzero(differs) + 1])


def wrong_stretches(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Return the runs with a wrong setting, the costliest first.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        As ``mounted_runs``; the cost that orders them is the sum of the stops that their frames lost.
    """
    runs = mounted_runs(desk, filters)
    wrong = runs[runs["setting_verdict"].isin(_WRONG)]
    return wrong.sort_values(["lost_in_all", "frames"], ascending=False, kind="stable").reset_index(drop=True)


def run_around(desk: Desk, place: int) -> pd.Series[Any] | None:
    """
    Return the run that a frame is in, or None for a frame without a time or a known body.

    Parameters
    ----------
    desk : Desk
    place : int
        Of the frame, in ``desk.frames``.
    """
    frame = desk.frames.iloc[place]
    if pd.isna(frame["captured_at"]) or pd.isna(frame["body"]) or pd.isna(frame["trip"]):
        return None
    runs = mounted_runs(desk, Filters(trip=(str(frame["trip"]),), body=(str(frame["body"]),)))
    holding = runs[(runs["first"] <= frame["captured_at"]) & (frame["captured_at"] <= runs["last"])]
    return holding.iloc[0] if len(holding) else None


def trips_at_a_glance(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Return the trips, the latest first.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        ``trip, first, last, frames, wrong, judged, kept``; frames in no trip are left out.
    """
    frames = desk.rows(filters, ["trip", "captured_at", "setting_verdict", "kept"])
    codes = codes_of(frames["trip"])
    names = frames["trip"].cat.categories
    taken = frames["captured_at"].groupby(codes).agg(["min", "max"]).reindex(range(len(names)))
    kept = frames["kept"]

    def count(which: npt.NDArray[np.bool_]) -> npt.NDArray[np.int64]:
        return np.bincount(codes[which], minlength=len(names) + 1)[: len(names)]  # the last is no trip

    trips = pd.DataFrame(
        {
            "trip": names,
            "first": taken["min"].to_numpy(),
            "last": taken["max"].to_numpy(),
            "frames": count(np.ones(len(frames), dtype=bool)),
            "wrong": count(frames["setting_verdict"].isin(_WRONG).to_numpy()),
            "judged": count(kept.notna().to_numpy()),
            "kept": count(kept.fillna(False).to_numpy(dtype=bool)),
        }
    )
    trips = trips[trips["frames"] > 0]
    return trips.sort_values("first", ascending=False, na_position="last").reset_index(drop=True)
