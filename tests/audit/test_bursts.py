from __future__ import annotations

import pandas as pd
import pytest

from auditor.audit.bursts import find_bursts


def frames(times: list[str | None], **columns: object) -> pd.DataFrame:
    usual = {"exposure_time_s": 0.1, "drive_mode": None, "body": "one", "lens": "a", "adapter": "", "trip": "t"}
    return pd.DataFrame({"captured_at": pd.to_datetime(pd.Series(times), format="mixed"), **usual, **columns})


def test_a_pause_ends_a_burst() -> None:
    table = frames(["2026-05-01 10:00:00", "2026-05-01 10:00:02", "2026-05-01 10:00:04.2"])
    assert find_bursts(table).tolist() == [0, 0, 1]
    assert find_bursts(table, pause_s=3.0).tolist() == [0, 0, 0]


def test_a_long_exposure_is_no_pause() -> None:
    table = frames(["2026-05-01 10:00:00", "2026-05-01 10:00:10"], exposure_time_s=8.5)
    assert find_bursts(table).tolist() == [0, 0]


@pytest.mark.parametrize(
    ("drive", "pause", "together"),
    [
        (("continuous", "continuous-high"), 3.5, True),
        (("continuous", "single"), 1.5, False),
        (("single", "single"), 0.8, True),
        (("single", "single"), 1.5, False),
        (("burst", None), 1.5, True),
        (("burst", None), 3.5, False),
        ((None, "self-timer"), 1.5, False),
    ],
)
def test_the_drive_decides_how_long_a_pause_may_be(drive: tuple[str, str], pause: float, together: bool) -> None:
    second = pd.Timestamp("2026-05-01 10:00:00") + pd.Timedelta(seconds=pause)
    table = frames(["2026-05-01 10:00:00", str(second)], drive_mode=list(drive), exposure_time_s=0.0)
    assert (find_bursts(table).tolist() == [0, 0]) is together


@pytest.mark.parametrize("column", ["body", "lens", "adapter", "trip"])
def test_another_body_lens_adapter_or_trip_is_another_burst(column: str) -> None:
    table = frames(["2026-05-01 10:00:00", "2026-05-01 10:00:01"], **{column: ["a", "b"]})
    assert len(set(find_bursts(table))) == 2


def test_two_bodies_at_once_do_not_cut_each_other_and_the_order_of_rows_does_not_matter() -> None:
    times = ["2026-05-01 10:00:00", "2026-05-01 10:00:01", "2026-05-01 10:00:00.5", "2026-05-01 10:00:01.5"]
    table = frames(times, body=["one", "one", "two", "two"])
    assert find_bursts(table).tolist() == [0, 0, 1, 1]
    assert find_bursts(table.iloc[[3, 1, 0, 2]]).tolist() == [0, 1, 1, 0]


def test_a_frame_without_a_time_is_a_burst_of_its_own() -> None:
    found = find_bursts(frames([None, None, "2026-05-01 10:00:00"]))
    assert len(set(found)) == 3


def test_without_times_every_frame_is_a_trial_of_its_own() -> None:
    assert find_bursts(pd.DataFrame({"lens": ["a", "a"]})).tolist() == [0, 1]
    assert find_bursts(frames([])).tolist() == []
    bare = pd.DataFrame({"captured_at": pd.to_datetime(["2026-05-01", "2026-05-01"]), "body": ["one", "one"]})
    assert find_bursts(bare).tolist() == [0, 0]
