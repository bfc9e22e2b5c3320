from __future__ import annotations

import datetime as dt
import itertools

import numpy as np
import pytest

from dashboards.desk import desk_of
from dashboards.filters import NOT_KNOWN, Filters
from dashboards.summaries import causes as causes_of
from dashboards.summaries import (
    flagged_frames,
    keep_rates,
    keep_rates_by_aperture,
    keep_rates_by_slowness,
    opening,
    typed_and_right,
    verdicts_by,
    verdicts_over_time,
)
from tests.dashboards.desks import audit_table, empty_desk, frames_table, season_desk, three_row_desk


def test_keep_rates_count_each_frame_once() -> None:
    rates = keep_rates(three_row_desk(), Filters()).set_index("key")
    assert rates.loc["orla-50", ["frames", "judged", "kept"]].tolist() == [2, 2, 1]
    assert rates.loc[NOT_KNOWN, ["frames", "judged", "kept"]].tolist() == [1, 0, 0]
    assert np.isnan(rates.loc[NOT_KNOWN, "keep_rate"])
    assert rates.index[-1] == NOT_KNOWN


@pytest.mark.published
def test_keep_rate_interval_is_wilsons() -> None:
    # R. G. Newcombe, Two-sided confidence intervals for the single proportion, Stat. Med. 17 (1998) 857-872,
    # Table I, method 3: 81 of 263. Printed to 4 decimals.
    rows = [{"path": f"{n}.jpg"} for n in range(263)]
    audited = [{"path": row["path"], "lens": "orla-50", "kept": n < 81} for n, row in enumerate(rows)]
    rate = keep_rates(desk_of(frames_table(rows), audit_table(audited)), Filters()).iloc[0]
    assert (rate["low"], rate["high"]) == pytest.approx((0.2553, 0.3662), abs=5e-5)


@pytest.mark.parametrize("by", ["lens", "body", "adapter", "trip"])
def test_keep_rates_agree_with_counting_by_hand(by: str) -> None:
    desk = season_desk(500)
    rates = keep_rates(desk, Filters(), by).set_index("key")  # type: ignore[arg-type]
    assert rates["frames"].sum() == 500
    for key, row in rates.iterrows():
        mine = desk.frames[by].isna() if key == NOT_KNOWN else desk.frames[by] == key
        assert row["kept"] == (desk.frames["kept"][mine] == True).sum()  # noqa: E712  (empty is neither)
        assert row["judged"] == desk.frames["kept"][mine].notna().sum()
    judged = rates[rates["judged"] > 0]
    assert ((judged["low"] <= judged["keep_rate"]) & (judged["keep_rate"] <= judged["high"])).all()


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


def test_flagged_frames_are_given_by_the_block() -> None:
    desk = season_desk(500)
    whole = flagged_frames(desk, Filters(), 0, 500)
    assert whole.attrs["total"] == len(whole) == (desk.frames["flags"].notna()).sum()
    parts = [flagged_frames(desk, Filters(), start, start + 40)["path"].tolist() for start in range(0, len(whole), 40)]
    assert list(itertools.chain.from_iterable(parts)) == whole["path"].tolist()
    assert flagged_frames(desk, Filters(), -5, -1).empty


def test_reason_names_what_was_typed_what_was_right_and_the_cost() -> None:
    reason = flagged_frames(three_row_desk(), Filters(), 0, 1)["reason"].iloc[0]
    for told in ("50 mm", "35.5 mm", "too long", "without the adapter's factor", "3.2 stops", "80 %"):
        assert told in reason


def test_opening_counts_the_wrong_settings() -> None:
    assert opening(three_row_desk(), Filters()) == (
        "3 frames, 1 to 2 May 2026. On 1 frame the stabiliser's setting was wrong; half of them lost 3.2 stops or more."
    )
    assert opening(three_row_desk(), Filters(lens=(NOT_KNOWN,))) == "1 frame. No wrong setting was found."


def test_an_empty_desk_has_empty_summaries() -> None:
    assert keep_rates(empty_desk(), Filters()).empty
    assert verdicts_over_time(empty_desk(), Filters()).empty
    assert flagged_frames(empty_desk(), Filters(), 0, 100).empty


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


def test_slowness_counts_stops_over_one_over_the_right_setting() -> None:
    rows = [{"path": f"{n}.jpg", "exposure_time_s": t} for n, t in enumerate([1 / 50, 1 / 25, 1 / 200, None])]
    audited = [{"path": row["path"], "right_setting_mm": 50.0, "kept": True} for row in rows]
    rates = keep_rates_by_slowness(desk_of(frames_table(rows), audit_table(audited)), Filters())
    assert rates[["name", "judged"]].to_numpy().tolist() == [["−2", 1], ["0", 1], ["+1", 1]]
    assert rates.attrs["left_out"] == 1


def test_apertures_are_gathered_to_the_nearest_stop() -> None:
    rows = [{"path": f"{n}.jpg", "f_number": f} for n, f in enumerate([2.0, 2.2, 2.8, 5.6, 16.0, 64.0, None])]
    audited = [{"path": row["path"], "kept": False} for row in rows]
    rates = keep_rates_by_aperture(desk_of(frames_table(rows), audit_table(audited)), Filters())
    assert rates["name"].tolist() == ["f/2", "f/2.8", "f/5.6", "f/16", "f/64"]
    assert rates["judged"].tolist() == [2, 1, 1, 1, 1]
    assert rates.attrs["left_out"] == 1
