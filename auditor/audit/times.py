"""
Camera clocks: put right as settings.toml says, and read in the order in which the frames were shot.

Local time goes back when summer time ends and on the way west. Where a body recorded its offset from UTC (Exif
OffsetTimeOriginal) the order is known all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.model.settings import Clock

__all__ = [
    "corrected_times",
    "recorded_offsets",
    "recorded_order",
    "shortest_pauses",
    "steady_times",
    "trusted_offsets",
]

Moments = npt.NDArray[np.datetime64]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_MINUTE_US = 60_000_000
_ENOUGH_US = 600 * 1_000_000
"""A squeezed pause of ten minutes still is one in which anything can have been changed. Judgement."""

_NEAR_US = 2 * 60 * _MINUTE_US
"""How far around a change of offset every frame must have recorded its own. Judgement."""

_COPIES_SHARE = 0.5
_HOUR_US = 60 * _MINUTE_US
_CHANGING_HOURS = (0, 1, 2, 3)
"""Hours, by summer time, at which it ends somewhere (IANA time zone database): 0 to 3."""


def corrected_times(frames: pd.DataFrame, clocks: Sequence[Clock]) -> pd.Series:
    """
    Return each frame's time with its body's clock corrections applied.

    Parameters
    ----------
    frames : DataFrame
        With ``body`` and ``captured_at`` (the camera's local time as recorded).
    clocks : sequence of Clock
        Each holds between two times as recorded by the wrong clock, both ends included.

    Returns
    -------
    Series of datetime64
        Same index; not-a-time where nothing was recorded.
    """
    recorded = frames["captured_at"]
    corrected = recorded.copy()
    for clock in clocks:
        wrong = (frames["body"] == clock.body).fillna(False) & recorded.between(clock.first, clock.last)
        corrected = corrected.where(~wrong, corrected + pd.Timedelta(minutes=clock.add_minutes))
    return corrected


def recorded_offsets(frames: pd.DataFrame) -> Floats:
    """Return the offsets from UTC as recorded, NaN where none is, or where the table does not have them. [min]."""
    if "offset_minutes" not in frames:
        return np.full(len(frames), np.nan)
    return np.asarray(frames["offset_minutes"].to_numpy(np.float64, na_value=np.nan))


def trusted_offsets(frames: pd.DataFrame) -> Floats:
    """
    Return the offsets from UTC that go with the times, NaN where none is known. [min].

    A clock that was put right recorded the offset of a wrong clock: it is left aside.

    Parameters
    ----------
    frames : DataFrame
        With ``at`` (corrected), ``captured_at`` and ``offset_minutes``.
    """
    offset = recorded_offsets(frames)
    if "captured_at" not in frames:
        return offset
    return np.where((frames["at"] == frames["captured_at"]).to_numpy(bool), offset, np.nan)


def steady_times(at: Moments, offset_minutes: Floats, body: Ints) -> Moments:
    """
    Return times that put each body's frames in the order in which they were shot.

    They are the local times, but where a body's local time went back: there the frames that were shot twice over the
    same hours by the clock are moved together, half an hour at most where summer time ends, so that time goes on
    and a pause stays at least half of itself, or ten minutes.

    Parameters
    ----------
    at : array of datetime64, shape (frames,)
        Local time; not-a-time stays so.
    offset_minutes : array, shape (frames,)
        Of that time from UTC, NaN where not known. [min]
    body : array of int, shape (frames,)
        Number of each frame's body, below 0 where not known.

    Returns
    -------
    array of datetime64, shape (frames,)

    Notes
    -----
    Nothing is moved unless every frame of the body around the change recorded an offset, one before the change and
    another after it, so that edited copies with an offset of their own do not bring the order about.

    Examples
    --------
    >>> at = np.array(["2026-10-25T02:40", "2026-10-25T02:10"], dtype="datetime64[us]")
    >>> np.argsort(steady_times(at, np.array([120.0, 60.0]), np.array([0, 0]))).tolist()
    [0, 1]
    >>> np.argsort(steady_times(at, np.array([np.nan, np.nan]), np.array([0, 0]))).tolist()
    [1, 0]
    """
    steady = at.astype("datetime64[us]")
    timed, told = ~np.isnat(steady), ~np.isnan(offset_minutes)
    known = timed & told & (body >= 0)
    if not known.any():
        return steady
    local = steady.astype(np.int64)
    for number in np.unique(body[known]):
        own = np.flatnonzero((body == number) & timed)
        offset = offset_minutes[own]
        if np.nanmin(offset) != np.nanmax(offset):
            steady[own] = _steadied(local[own], offset).astype("datetime64[us]")
    return steady


def recorded_order(frames: pd.DataFrame) -> Moments:
    """
    Return ``captured_at`` as `steady_times` makes it: for the order of each body's frames, never to be shown.

    Parameters
    ----------
    frames : DataFrame
        With ``captured_at``, ``body``, and ``offset_minutes`` where it was recorded.
    """
    body = pd.factorize(frames["body"])[0].astype(np.int64)
    return steady_times(frames["captured_at"].to_numpy("datetime64[us]"), recorded_offsets(frames), body)


def _steadied(local: Ints, offset_minutes: Floats) -> Ints:
    """Return one body's times without going back. [µs]."""
    told = np.flatnonzero(~np.isnan(offset_minutes))
    offset = (offset_minutes[told] * _MINUTE_US).astype(np.int64)
    utc = local[told] - offset
    order = np.argsort(utc, kind="stable")
    place, utc, offset = told[order], utc[order], offset[order]
    untold = np.sort(local[np.isnan(offset_minutes)])
    steady = local.copy()
    for last, near in _turns(utc, offset):
        start, end, first, after = _repeated(utc, offset, last)
        around = np.searchsorted(untold, [first - near, after + near])
        is_doubted = _are_copies(local[place], utc, last, (start, end)) and not _is_at_night(local[place], utc, last)
        if around[0] != around[1] or is_doubted:
            continue
        moved = place[np.searchsorted(utc, start) : np.searchsorted(utc, end, side="right")]
        went = (local[moved] - offset_minutes[moved] * _MINUTE_US - start) / (end - start)
        steady[moved] = first + np.rint(went * (after - first)).astype(np.int64)
    return steady


def _turns(utc: Ints, offset: Ints) -> Iterator[tuple[int, int]]:
    """
    Yield the frames after which local time went back, and how far around each of them nothing else changed. [µs].

    A change too close to another is left out: nobody can say what was meant.
    """
    changes = np.flatnonzero(offset[1:] != offset[:-1])
    local = utc + offset
    back = local[changes + 1] < local[changes]
    # The last frame before the change before, and the first after the next.
    before = np.append(-np.inf, utc[changes].astype(float))[:-1]
    after = np.append(utc[changes + 1].astype(float), np.inf)[1:]
    near = np.maximum(offset[changes] - offset[changes + 1], _NEAR_US)
    starts, ends = local[changes + 1] - offset[changes], local[changes] - offset[changes + 1]
    for place in np.flatnonzero(back & (before < starts - near) & (after > ends + near)):
        yield int(changes[place]), int(near[place])


def _repeated(utc: Ints, offset: Ints, last: int) -> tuple[int, int, int, int]:
    """
    Return the stretch around the frame after which time went back, in UTC (start, end) and by the clock. [µs].

    As short as it can be: all that was shot twice by the clock, and more only where the pause at the change would
    otherwise shrink too far.
    """
    fell = int(offset[last] - offset[last + 1])
    begin, end = int(utc[last + 1] + offset[last + 1]), int(utc[last] + offset[last])
    pause = int(utc[last + 1] - utc[last])
    share = min(0.5, _ENOUGH_US / pause) if pause else 0.5
    wider = max(0, int((share * fell / (1 - share) - (end - begin)) / 2) + 1)
    first, after = begin - wider, end + wider
    return first - int(offset[last]), after - int(offset[last + 1]), first, after


def _are_copies(local: Ints, utc: Ints, last: int, stretch: tuple[int, int]) -> bool:
    """Tell whether the frames after the change are the ones before it once more, by their times."""
    start, end = stretch
    earlier = local[np.searchsorted(utc, start) : last + 1]
    later = local[last + 1 : np.searchsorted(utc, end, side="right")]
    return bool(np.isin(later, earlier).mean() > _COPIES_SHARE)


def _is_at_night(local: Ints, utc: Ints, last: int) -> bool:
    """
    Tell whether a change may be the end of summer time: on the hour, from midnight to three.

    Then frames at even steps, as of an interval timer, fall on the same times by the clock without being copies.
    """
    begins = int(local[last])
    hour = -(-begins // _HOUR_US)
    return hour * _HOUR_US <= begins + int(utc[last + 1] - utc[last]) and hour % 24 in _CHANGING_HOURS


def shortest_pauses(at: Moments, offset_minutes: Floats) -> npt.NDArray[np.timedelta64]:
    """
    Return the pause before each frame but the first, by the clock or by UTC, whichever is shorter.

    When summer time begins, and on the way east, the clock leaps: a pause looks longer than it was.

    Parameters
    ----------
    at : array of datetime64, shape (frames,)
        Local times in rising order.
    offset_minutes : array, shape (frames,)
        Of these from UTC, NaN where not known: then the clock's pause counts. [min]

    Examples
    --------
    >>> at = np.array(["2026-03-29T01:59", "2026-03-29T03:01"], dtype="datetime64[m]")
    >>> shortest_pauses(at, np.array([60.0, 120.0])).astype(int).tolist()
    [120000000]
    """
    by_clock = np.diff(at.astype("datetime64[us]"))
    leap = np.nan_to_num(np.diff(offset_minutes), nan=0.0)
    return np.asarray(np.minimum(by_clock, by_clock - (leap * _MINUTE_US).astype("timedelta64[us]")))
