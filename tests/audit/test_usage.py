from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

from auditor.audit.usage import usage_of, year_of
from auditor.model.kit import Lens


def lens(**dates: dt.date) -> Lens:
    return Lens(id="orla-50", name="Orla", focal_mm=(50.0, 50.0), mount="M42", **dates)


def frames(years: list[float], kept: int | list[int] = 1, trips: list[str] | None = None) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "kept": np.broadcast_to(kept, len(years)).astype(np.int8),
            "year": years,
            "burst": range(len(years)),
            "trip": pd.Categorical(trips or [str(number) for number in range(len(years))]),
            "effective_focal_mm": 50.0,
            "used_f_number": [2.0, *[np.nan] * (len(years) - 1)] if years else [],
            "distance_m": np.nan,
        }
    )


def test_keepers_a_year_count_from_the_day_acquired_or_the_archive_s_first_frame() -> None:
    table = frames([2024.5] * 30)
    assert usage_of(table, lens(), (2020.0, 2026.0)).keepers_a_year == pytest.approx(5.0)
    late = usage_of(table, lens(acquired=dt.date(2024, 1, 1)), (2020.0, 2026.0))
    assert late.keepers_a_year == pytest.approx(15.0)
    early = usage_of(table, lens(acquired=dt.date(2010, 1, 1)), (2020.0, 2026.0))
    assert early.years == pytest.approx(6.0)
    sold = usage_of(table, lens(sold=dt.date(2025, 1, 1)), (2020.0, 2026.0))
    assert sold.years == pytest.approx(5.0)


def test_a_lens_bought_yesterday_has_a_quarter_of_a_year() -> None:
    assert usage_of(frames([2026.0]), lens(acquired=dt.date(2026, 1, 1)), (2020.0, 2026.0)).years == 0.25
    assert np.isnan(usage_of(frames([np.nan]), lens(), (np.nan, np.nan)).years)


@pytest.mark.parametrize(
    ("years", "trend"),
    [
        ([2025.5] * 12, "rising"),
        ([2020.5] * 12, "falling"),
        ([2020.5, 2025.5] * 6, "no clear trend"),
        ([], "too short to say"),
    ],
)
def test_a_trend_is_the_later_half_against_the_earlier(years: list[float], trend: str) -> None:
    assert usage_of(frames(years), lens(), (2020.0, 2026.0)).trend == trend


def test_many_keepers_of_one_trip_are_one_trial() -> None:
    one_trip = usage_of(frames([2025.5] * 100, trips=["same"] * 100), lens(), (2020.0, 2026.0))
    assert (one_trip.trend, one_trip.later_share) == ("no clear trend", 1.0)
    assert usage_of(frames([2020.2] * 9), lens(), (2020.0, 2020.5)).trend == "too short to say"


def test_what_it_was_used_at_says_of_how_many_frames() -> None:
    found = usage_of(frames([2024.0] * 5, kept=[1, 1, 0, -1, -1]), lens(), (2020.0, 2026.0))
    assert (found.frames, found.judged, found.kept, found.bursts) == (5, 3, 2, 3)
    assert (found.focal_mm.middle, found.focal_mm.frames, found.f_number.frames, found.distance_m.frames) == (
        50.0,
        5,
        1,
        0,
    )


def test_a_day_is_a_year_with_its_part() -> None:
    assert year_of(dt.date(2026, 1, 1)) == 2026.0
