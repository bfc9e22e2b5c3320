from __future__ import annotations

import pandas as pd
import pytest

from auditor.audit.groupings import GROUPING_MEANS, GROUPINGS, group_of


def words(frames: pd.DataFrame, by: str) -> list[object]:
    return group_of(frames, by).astype(object).where(lambda group: group.notna(), None).tolist()


@pytest.mark.parametrize(("used", "band"), [(1.4, "f/1.4"), (1.7, "f/2"), (3.5, "f/4"), (64.0, "f/45"), (0.0, None)])
def test_an_aperture_falls_to_the_nearest_stop(used: float, band: str) -> None:
    assert words(pd.DataFrame({"f_number": [used]}), "aperture") == [band]


def test_the_log_tells_the_aperture_that_exif_does_not() -> None:
    table = pd.DataFrame({"f_number": [None, 2.0], "logged_aperture": [5.6, 8.0]}).astype(float)
    assert words(table, "aperture") == ["f/5.6", "f/2"]


@pytest.mark.parametrize(
    ("time", "band"), [(1 / 60, "1/60 s"), (0.8, "1 s"), (1 / 16000, "1/8000 s"), (0.0, None), (None, None)]
)
def test_an_exposure_falls_to_the_nearest_stop(time: float | None, band: str | None) -> None:
    table = pd.DataFrame({"exposure_time_s": pd.Series([time], dtype="float64")})
    assert words(table, "exposure") == [band]


@pytest.mark.parametrize(
    ("distance", "band"),
    [(0.45, "0-0.5 m"), (0.5, "0.5-1 m"), (40.0, "10 m and more"), (float("inf"), "10 m and more")],
)
def test_distances_fall_into_bands_lower_end_included(distance: float, band: str) -> None:
    assert words(pd.DataFrame({"focus_distance_m": [distance]}), "distance") == [band]
    assert words(pd.DataFrame({"subject_distance_m": [distance]}), "distance") == [band]


def test_time_is_the_month() -> None:
    table = pd.DataFrame({"captured_at": pd.to_datetime(["2026-05-31 23:59", None])})
    assert words(table, "time") == ["2026-05", None]


def test_a_grouping_that_is_made_already_is_taken_as_it_is() -> None:
    table = pd.DataFrame({"focal": pd.Categorical(["18-24 mm"])})
    assert words(table, "focal") == ["18-24 mm"]
    assert all(GROUPING_MEANS[by] for by in GROUPINGS)
