from __future__ import annotations

import datetime as dt

import pytest

from dashboards.desk import desk_of
from dashboards.filters import NOT_KNOWN, Filters
from dashboards.verdicts import causes as causes_of
from dashboards.verdicts import opening, settings_by_adapter, typed_and_right, verdicts_by, verdicts_over_time
from tests.dashboards.desks import audit_table, empty_desk, frames_table, season_desk, three_row_desk


def test_verdicts_by_day_lose_no_frame() -> None:
    verdicts = verdicts_over_time(three_row_desk(), Filters())
    assert verdicts[["period", "setting_verdict", "frames"]].to_numpy().tolist() == [
        ["1 May", "right", 1],
        ["2 May", "too-long", 1],
    ]
    assert verdicts.attrs["without_time"] == 1


@pytest.mark.parametrize(
    ("step_days", "written"), [(1, "1 Jan"), (7, "Jan 2026"), (60, "2026")], ids=["days", "months", "years"]
)
def test_many_days_are_gathered_into_longer_periods(step_days: int, written: str) -> None:
    count = 30 if step_days == 1 else 100
    first = dt.datetime(2026, 1, 1, 12)
    rows = [{"path": f"{n}.jpg", "captured_at": first + dt.timedelta(days=step_days * n)} for n in range(count)]
    verdicts = verdicts_over_time(desk_of(frames_table(rows), audit_table([])), Filters())
    assert verdicts["period"].iloc[0] == written
    assert verdicts["frames"].sum() == count
    assert set(verdicts["setting_verdict"]) == {"unknown"}  # not audited: nobody can tell


def test_opening_counts_the_wrong_settings() -> None:
    assert opening(three_row_desk(), Filters()) == (
        "3 frames, 1 to 2 May 2026. On 1 frame the stabiliser's setting was wrong; half of them lost 3.2 stops or more."
        " Of 1 frame it cannot be told."
    )
    assert opening(three_row_desk(), Filters(lens=(NOT_KNOWN,))) == (
        "1 frame. No wrong setting was found. Of 1 frame it cannot be told."
    )


def test_verdicts_by_lens_lose_no_frame_and_put_the_worst_first() -> None:
    desk = season_desk(500)
    lenses = verdicts_by(desk, Filters(), "lens")
    assert lenses["frames"].sum() == 500
    for _, shares in lenses.groupby("key"):
        assert shares["share"].sum() == pytest.approx(1.0)
    wrong = desk.frames["setting_verdict"].isin(["too-short", "too-long"])
    shares = wrong.groupby(desk.frames["lens"], observed=True).mean()
    assert lenses["key"].iloc[0] == shares.idxmax()


def test_causes_count_the_wrong_ones_only() -> None:
    causes = causes_of(three_row_desk(), Filters())
    assert causes.to_numpy().tolist() == [["adapter-factor-left-out", 1, pytest.approx(3.2)]]


def test_typed_and_right_leave_out_what_has_not_both() -> None:
    pairs = typed_and_right(three_row_desk(), Filters())
    assert sorted(pairs[["setting_mm", "right_setting_mm", "frames"]].to_numpy().tolist()) == [[50, 36, 1], [50, 50, 1]]


def test_settings_by_adapter_keep_the_rows_without_a_cause() -> None:
    pairs = settings_by_adapter(three_row_desk(), Filters())
    assert sorted(pairs["name"]) == ["M42 plain", "M42 reducer 0.71×"]
    assert pairs["frames"].sum() == 2


def test_an_empty_desk_has_no_verdicts() -> None:
    for made in (verdicts_over_time, causes_of, typed_and_right, settings_by_adapter):
        assert made(empty_desk(), Filters()).empty
    assert verdicts_by(empty_desk(), Filters(), "lens").empty
