"""Clocks that were wrong: how far a body seems to be off its log, or two bodies off each other. Nothing is applied."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.times import trusted_offsets
from auditor.model.kit import Kit
from auditor.model.log import LogRow

__all__ = ["ClockOffset", "find_clock_offsets", "offset_sentence"]

_LONGEST_MINUTES = 14 * 60
"""Clocks are wrong by a time zone or a summer-time change at most. Judgement."""

_STEP_MINUTES = 5.0
_ELSEWHERE_MINUTES = 15.0
_LEAST_ROWS = 5
_LEAST_GAIN = 0.12
"""Share of rows by which another offset must fit better than none before it is reported. Judgement."""

_LEAST_FIT = 0.25
_LEAST_MARGIN = 0.1
"""Share of rows by which the best offset must lead all that are more than a quarter of an hour from it."""

_LEAST_FRAMES = 3
_SAME_TIME_S = 12 * 3600.0
"""Two bodies' offsets are compared where one was used within this before and after the other. Judgement."""

_JUST_AFTER_S = 240.0
"""A row speaks of the frames that follow within this of its time."""

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class ClockOffset:
    """
    A likely offset of a body's clock.

    Attributes
    ----------
    body : str
    against : str
        ``"log"``, or the other body's id.
    trip : str
    add_minutes : float
        What to add to this body's clock. [min]
    agrees_now, agrees_then : float
        Share of what can be compared that agrees now, and would agree with the correction.
    compared : int
        Log rows, or frames that recorded their offset from UTC, that were compared.
    first, last : datetime
        The body's frames of the trip, by its own clock.
    """

    body: str
    against: str
    trip: str
    add_minutes: float
    agrees_now: float
    agrees_then: float
    compared: int
    first: dt.datetime
    last: dt.datetime


def find_clock_offsets(frames: pd.DataFrame, kit: Kit, log: Sequence[LogRow]) -> tuple[ClockOffset, ...]:
    """
    Look for bodies whose clock seems wrong, trip by trip.

    Against the log: the rows are moved by up to fourteen hours either way, and at each place it is counted how many
    of them are followed by frames that show what the row names. Against another body: where both recorded their
    offset from UTC (Exif OffsetTimeOriginal) and these differ, the clocks were set to two zones.

    Parameters
    ----------
    frames : DataFrame
        Evidence with ``body``, ``trip``, ``at``, ``captured_at``, ``offset_minutes``, ``contact_lens``,
        ``listed_lens``, ``has_contacts`` and ``setting_mm``.
    kit : Kit
    log : sequence of LogRow

    Returns
    -------
    tuple of ClockOffset
        Reported, never applied.
    """
    timed = frames.loc[frames["at"].notna() & frames["body"].notna() & frames["trip"].notna()]
    found: list[ClockOffset] = []
    for (trip, body), own in timed.groupby(["trip", "body"], observed=True):
        offset = _against_log(str(trip), str(body), own.sort_values("at", kind="stable"), (kit, log))
        if offset is not None:
            found.append(offset)
    return (*found, *_against_each_other(timed))


def _against_log(trip: str, body: str, own: pd.DataFrame, files: tuple[Kit, Sequence[LogRow]]) -> ClockOffset | None:
    kit, log = files
    at_s = _seconds(own["at"])
    reach = _LONGEST_MINUTES * 60
    rows = [row for row in log if row.body == body and row.lens is not None]
    starts = np.array([row.start for row in rows], dtype="datetime64[us]").astype(np.int64) / 1e6 + 30.0
    near = (starts >= at_s[0] - reach) & (starts <= at_s[-1] + reach)
    rows, starts = [row for row, is_near in zip(rows, near, strict=True) if is_near], starts[near]
    if len(rows) < _LEAST_ROWS:
        return None
    shows = _what_each_row_would_show(own, rows, kit)
    shifts = np.arange(-_LONGEST_MINUTES, _LONGEST_MINUTES + 0.1, _STEP_MINUTES)
    fits = np.array([_fit(at_s, starts - shift * 60, shows) for shift in shifts])
    now, best = fits[len(shifts) // 2], int(fits.argmax())
    elsewhere = fits[np.abs(shifts - shifts[best]) > _ELSEWHERE_MINUTES].max()
    if fits[best] < _LEAST_FIT or fits[best] - now < _LEAST_GAIN or fits[best] - elsewhere < _LEAST_MARGIN:
        return None
    minutes = _rounded(_middle(shifts, fits))
    first, last = own["captured_at"].iloc[0], own["captured_at"].iloc[-1]
    return ClockOffset(
        body, "log", trip, minutes, float(now), float(fits[best]), len(rows),
        first.to_pydatetime(warn=False), last.to_pydatetime(warn=False),
    )  # fmt: skip


def _seconds(at: pd.Series) -> Floats:
    return np.asarray(at.to_numpy("datetime64[us]").astype(np.int64) / 1e6)


def _what_each_row_would_show(own: pd.DataFrame, rows: Sequence[LogRow], kit: Kit) -> npt.NDArray[np.bool_]:
    """Whether each frame shows what each row names, shape (rows, frames); a lens that shows nothing never does."""
    setting = own["setting_mm"].to_numpy(np.float64)
    contact, listed = own["contact_lens"].to_numpy(object), own["listed_lens"].to_numpy(object)
    shows = np.zeros((len(rows), len(own)), dtype=bool)
    made: dict[tuple[str | None, str | None], npt.NDArray[np.bool_]] = {}
    for place, row in enumerate(rows):
        key = (row.lens, row.adapter)
        if key not in made:
            made[key] = (contact == row.lens) | (listed == row.lens) | _typed_for(setting, row, kit)
        shows[place] = made[key]
    return shows


def _typed_for(setting_mm: Floats, row: LogRow, kit: Kit) -> npt.NDArray[np.bool_]:
    lens = kit.lens(str(row.lens))
    if lens.contacts:
        return np.zeros(len(setting_mm), dtype=bool)
    factors = [1.0]
    if row.adapter:
        factors = [float(np.prod([kit.adapter(part).factor for part in row.adapter.split("+")]))]
    low, high = lens.true_focal_mm[0] * min(factors) * 0.97, lens.true_focal_mm[1] * max(factors) * 1.06
    return np.asarray((setting_mm >= low) & (setting_mm <= high))


def _fit(at_s: Floats, starts: Floats, shows: npt.NDArray[np.bool_]) -> float:
    """Share of rows whose next frame, within minutes, shows what the row names while the frame before does not."""
    after = np.searchsorted(at_s, starts + 60.0)
    inside = after < len(at_s)
    place = np.minimum(after, len(at_s) - 1)
    soon = inside & (at_s[place] - starts <= _JUST_AFTER_S)
    rows = np.arange(len(starts))
    before = np.maximum(np.searchsorted(at_s, starts - 120.0) - 1, 0)
    changed = ~shows[rows, before]
    return float((soon & shows[rows, place] & changed).mean())


def _middle(shifts: Floats, fits: Floats) -> float:
    """Return the middle of the shifts that fit about as well as the best."""
    best = int(fits.argmax())
    near = (np.abs(shifts - shifts[best]) <= 2 * _STEP_MINUTES) & (fits >= 0.9 * fits[best])
    return float(np.average(shifts[near], weights=fits[near]))


def _rounded(minutes: float) -> float:
    """Round to a quarter of an hour where that is near: zones and summer time differ by such steps."""
    quarter = 15.0 * round(minutes / 15.0)
    return quarter if abs(minutes - quarter) <= _STEP_MINUTES else float(round(minutes))


def _against_each_other(timed: pd.DataFrame) -> list[ClockOffset]:
    """
    Report bodies of one trip that recorded different offsets from UTC while shooting at the same time.

    At the same time: two bodies may both have followed the end of summer time, or a flight, and one of them been used
    more before and the other more after it.
    """
    offset = trusted_offsets(timed)
    utc_s = _seconds(timed["at"]) - 60 * offset
    known = timed.assign(offset_minutes=offset, utc_s=utc_s).loc[~np.isnan(offset)].sort_values("utc_s", kind="stable")
    found = []
    for trip, frames in known.groupby("trip", observed=True):
        main = frames["body"].mode().iloc[0]
        theirs = frames.loc[frames["body"] == main]
        for body, own in frames.loc[frames["body"] != main].groupby("body", observed=True):
            apart = _offset_then(theirs, own["utc_s"].to_numpy()) - own["offset_minutes"].to_numpy()
            for minutes, frame in own.groupby(apart):
                if minutes and len(frame) >= _LEAST_FRAMES:
                    found.append(_zone_offset(str(trip), str(body), frame, (str(main), float(minutes))))
    return found


def _offset_then(theirs: pd.DataFrame, utc_s: Floats) -> Floats:
    """Return the offset that a body recorded both before and after each moment, NaN where they are two. [min]."""
    at, offset = theirs["utc_s"].to_numpy(), theirs["offset_minutes"].to_numpy()
    after = np.searchsorted(at, utc_s)
    before, after = np.maximum(after - 1, 0), np.minimum(after, len(at) - 1)
    is_one = (offset[before] == offset[after]) & (np.abs(at[before] - utc_s) <= _SAME_TIME_S)
    is_one &= np.abs(at[after] - utc_s) <= _SAME_TIME_S
    return np.where(is_one, offset[before], np.nan)


def _zone_offset(trip: str, body: str, own: pd.DataFrame, other: tuple[str, float]) -> ClockOffset:
    first, last = own["captured_at"].iloc[0], own["captured_at"].iloc[-1]
    return ClockOffset(
        body, other[0], trip, other[1], 0.0, 1.0, len(own),
        first.to_pydatetime(warn=False), last.to_pydatetime(warn=False),
    )  # fmt: skip


def offset_sentence(offset: ClockOffset) -> str:
    """
    Say what seems wrong and what to write into settings.toml.

    Examples
    --------
    >>> morning = dt.datetime(2026, 5, 1, 9, 0)
    >>> offset = ClockOffset("one", "log", "Harbour week", 60, 0.1, 0.9, 20, morning, morning)
    >>> print(offset_sentence(offset))
    Harbour week: the clock of "one" seems 60 min slow against the log (2 of 20 rows fit now, 18 then).
      If so, add to settings.toml:
      [[clocks]]
      body = "one"
      from = 2026-05-01T09:00:00
      to = 2026-05-01T09:00:00
      add_minutes = 60
    """
    speed = "slow" if offset.add_minutes > 0 else "fast"
    if offset.against == "log":
        then, now = round(offset.agrees_then * offset.compared), round(offset.agrees_now * offset.compared)
        why = f"against the log ({now} of {offset.compared} rows fit now, {then} then)"
    else:
        why = f'against "{offset.against}" (they recorded different offsets from UTC)'
    last = offset.last + dt.timedelta(seconds=1) if offset.last.microsecond else offset.last
    return (
        f'{offset.trip}: the clock of "{offset.body}" seems {abs(offset.add_minutes):g} min {speed} {why}.\n'
        f"  If so, add to settings.toml:\n"
        f'  [[clocks]]\n  body = "{offset.body}"\n'
        f"  from = {offset.first:%Y-%m-%dT%H:%M:%S}\n  to = {last:%Y-%m-%dT%H:%M:%S}\n"
        f"  add_minutes = {offset.add_minutes:g}"
    )
