"""What a lens is used for, how much it brings home a year, and whether that changes."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.model.kit import Lens
from auditor.stats.intervals import wilson

__all__ = ["Range", "Usage", "usage_of", "year_of"]

_LEAST_YEARS = 0.25


@dataclass(frozen=True)
class Range:
    """Median and the middle eight tenths of what was used, and of how many frames it is known."""

    middle: float
    low: float
    high: float
    frames: int


@dataclass(frozen=True)
class Usage:
    """
    A lens over the years.

    Attributes
    ----------
    frames, judged, kept, bursts : int
        Frames, judged ones, keepers, bursts with a judged frame.
    years : float
        From the day it was acquired or the archive's first frame, whichever came later, to the day it was sold, else
        the archive's last frame; at least a quarter of a year. [year]
    keepers_a_year, frames_a_year : float
        Over those years. [1/year]
    trend : str
        rising, falling, no clear trend, too short to say: keepers of the later half of those years against the earlier.
    later_share, later_low, later_high : float
        Share of the keepers that came in the later half, 0.5 for no change, with its 95 % interval in which a trip is
        one trial. [-]
    focal_mm, f_number, distance_m : Range
        Effective focal length with the adapter, f-number, focus distance.
    """

    frames: int
    judged: int
    kept: int
    bursts: int
    years: float
    keepers_a_year: float
    frames_a_year: float
    trend: str
    later_share: float
    later_low: float
    later_high: float
    focal_mm: Range
    f_number: Range
    distance_m: Range


def usage_of(condensed: pd.DataFrame, lens: Lens, archive: tuple[float, float]) -> Usage:
    """
    Sum up what a lens was used for.

    Parameters
    ----------
    condensed : DataFrame
        Columns of `auditor.audit.condensed.CONDENSED`, of this lens alone.
    lens : Lens
        For the days it was acquired and sold.
    archive : (first, last)
        Years of the archive's first and last frame, with the part of the year passed; NaN where no frame has a time.
        [year]
    """
    kept = condensed["kept"].to_numpy()
    year = condensed["year"].to_numpy(np.float64)
    first, last = archive
    begin = max(year_of(lens.acquired), first) if lens.acquired else first
    end = min(year_of(lens.sold), last) if lens.sold else last
    years = max(end - begin, _LEAST_YEARS) if np.isfinite(end - begin) else float("nan")
    keepers = int((kept == 1).sum())
    later = _later(year[kept == 1], condensed["trip"].cat.codes.to_numpy()[kept == 1], (begin, end))
    return Usage(
        frames=len(condensed),
        judged=int((kept >= 0).sum()),
        kept=keepers,
        bursts=int(np.unique(condensed["burst"].to_numpy()[kept >= 0]).size),
        years=years,
        keepers_a_year=keepers / years,
        frames_a_year=len(condensed) / years,
        trend=_trend(later, years),
        later_share=later[0],
        later_low=later[1],
        later_high=later[2],
        focal_mm=_range(condensed["effective_focal_mm"]),
        f_number=_range(condensed["used_f_number"]),
        distance_m=_range(condensed["distance_m"]),
    )


def year_of(day: dt.date) -> float:
    """
    Return a day as a year with the part of it that had passed.

    Examples
    --------
    >>> year_of(dt.date(2026, 7, 2))
    2026.5
    """
    return round(day.year + (day.timetuple().tm_yday - 1) / 365.25, 2)


def _later(
    year: npt.NDArray[np.float64], trip: npt.NDArray[np.integer], span: tuple[float, float]
) -> tuple[float, float, float]:
    """Share of the keepers in the later half, with an interval for as many trials as there were trips' worth."""
    known = np.isfinite(year)
    if not known.any():
        return float("nan"), 0.0, 1.0
    late = year[known] > sum(span) / 2.0
    size = np.unique(trip[known], return_counts=True)[1]
    trips = float(size.sum() ** 2 / (size**2).sum())
    share = float(late.mean())
    low, high = wilson(share * trips, trips)
    return share, float(low), float(high)


def _trend(later: tuple[float, float, float], years: float) -> str:
    if np.isnan(later[0]) or not years >= 1.0:
        return "too short to say"
    if later[1] > 0.5:
        return "rising"
    return "falling" if later[2] < 0.5 else "no clear trend"


def _range(values: pd.Series) -> Range:
    known = values.dropna().to_numpy(np.float64)
    if not known.size:
        return Range(float("nan"), float("nan"), float("nan"), 0)
    low, middle, high = np.quantile(known, [0.1, 0.5, 0.9])
    return Range(float(middle), float(low), float(high), int(known.size))
