"""Bursts: frames of one subject taken in one go, found from time and drive."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.times import recorded_order

__all__ = ["BURST_PAUSE_S", "find_bursts"]

BURST_PAUSE_S = 2.0
"""Longest pause inside a burst where the drive is not known. Judgement. [s]."""

_SERIAL = ("continuous", "continuous-low", "continuous-high", "burst", "bracketing")
_SINGLE = ("single", "self-timer", "remote")

Codes = npt.NDArray[np.int32]


def find_bursts(frames: pd.DataFrame, pause_s: float = BURST_PAUSE_S) -> Codes:
    """
    Return the number of each frame's burst.

    Two frames that follow each other on one body, with the same lens and adapter and on the same trip, are of one burst
    where the pause between the end of one exposure and the start of the next is at most ``pause_s``. Where both were
    taken with a drive that runs on its own the pause may be twice as long (a full buffer slows it), where either was a
    single one it may be half as long: the subject is the same only if the finger came down again at once.

    Parameters
    ----------
    frames : DataFrame
        With ``captured_at``, ``exposure_time_s``, ``drive_mode``, ``body``, ``lens``, ``adapter``, ``trip``, and
        ``offset_minutes`` where local time may have gone back. Where the first or the body is missing from the table
        every frame is a burst of its own.
    pause_s : float
        Longest pause. [s]

    Returns
    -------
    int array, shape (frames,)
        Bursts by their number, in order of body and time; a frame without a time is a burst of its own.

    Examples
    --------
    >>> frames = pd.DataFrame({
    ...     "captured_at": pd.to_datetime(["2026-05-01 10:00:00", "2026-05-01 10:00:01", "2026-05-01 10:05:00"]),
    ...     "exposure_time_s": 0.1, "body": "one", "lens": "orla-50", "adapter": "", "trip": "Isles"})
    >>> find_bursts(frames).tolist()
    [0, 0, 1]
    """
    if not {"captured_at", "body"} <= set(frames.columns):
        return np.arange(len(frames), dtype=np.int32)
    at = frames["captured_at"].to_numpy("datetime64[us]")
    body = _codes(frames["body"])
    timed = ~np.isnat(at)
    steady = recorded_order(frames)
    order = np.lexsort((steady, body, ~timed))
    # By the clock, and where that went back by the time that goes on.
    moment, by_clock = (times.astype(np.int64)[order] / 1e6 for times in (steady, at))
    taken = frames["exposure_time_s"].to_numpy(np.float64)[order] if "exposure_time_s" in frames else 0.0
    pause = np.maximum(np.diff(moment), np.diff(by_clock)) - np.nan_to_num(np.broadcast_to(taken, moment.shape))[:-1]
    together = (pause <= _longest(frames, order, pause_s)) & timed[order][1:] & timed[order][:-1]
    for column in ("body", "lens", "adapter", "trip"):
        if column in frames:
            code = _codes(frames[column])[order]
            together &= code[1:] == code[:-1]
    begins = np.r_[np.zeros(min(len(order), 1), np.int32), np.cumsum(~together, dtype=np.int32)]
    numbers = np.empty(len(frames), np.int32)
    numbers[order] = begins
    return numbers


def _longest(frames: pd.DataFrame, order: npt.NDArray[np.intp], pause_s: float) -> npt.NDArray[np.float64]:
    """Longest pause between each frame and the next, by how both were released. [s]."""
    if "drive_mode" not in frames:
        return np.full(max(len(order) - 1, 0), pause_s)
    drive = frames["drive_mode"]
    serial, single = drive.isin(_SERIAL).to_numpy(bool)[order], drive.isin(_SINGLE).to_numpy(bool)[order]
    both, either = serial[1:] & serial[:-1], single[1:] | single[:-1]
    return np.select([both, either], [2.0 * pause_s, 0.5 * pause_s], default=pause_s)


def _codes(column: pd.Series) -> npt.NDArray[np.int64]:
    return np.asarray(pd.factorize(column)[0], dtype=np.int64)
