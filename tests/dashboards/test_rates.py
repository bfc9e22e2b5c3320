from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from auditor.model.workspace import open_workspace
from auditor.pipeline.ledgers import ledger_of
from dashboards.desk import desk_of
from dashboards.filters import NOT_KNOWN, Filters
from dashboards.rates import keep_rates, keep_rates_by_aperture, keep_rates_by_slowness, lenses_at_a_glance
from dashboards.sharp_rates import FIELDS, kept_and_sharp_by_lens
from dashboards.watched import workspace_desk
from tests.dashboards.desks import audit_table, empty_desk, frames_table, season_desk, three_row_desk
from tests.measures import write_measures


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


def test_slowness_counts_stops_over_one_over_the_right_setting() -> None:
    rows = [{"path": f"{n}.jpg", "exposure_time_s": t} for n, t in enumerate([1 / 50, 1 / 25, 1 / 200, None])]
    audited = [{"path": row["path"], "right_setting_mm": 50.0, "kept": True} for row in rows]
    rates = keep_rates_by_slowness(desk_of(frames_table(rows), audit_table(audited)), Filters())
    assert rates[["name", "judged"]].to_numpy().tolist() == [["−2", 1], ["−1", 0], ["0", 1], ["+1", 1]]
    assert rates.attrs["left_out"] == 1


def test_apertures_are_gathered_to_the_nearest_stop() -> None:
    rows = [{"path": f"{n}.jpg", "f_number": f} for n, f in enumerate([2.0, 2.2, 2.8, 5.6, 16.0, 64.0, None])]
    audited = [{"path": row["path"], "kept": False} for row in rows]
    rates = keep_rates_by_aperture(desk_of(frames_table(rows), audit_table(audited)), Filters())
    judged = rates[rates["judged"] > 0]
    assert judged["name"].tolist() == ["f/2", "f/2.8", "f/5.6", "f/16", "f/64"]
    assert judged["judged"].tolist() == [2, 1, 1, 1, 1]
    assert rates["key"].tolist() == list(range(2, 13))  # the scale has no gaps
    assert rates.attrs["left_out"] == 1


def test_lenses_at_a_glance_count_what_was_wrong_and_when_they_were_last_used() -> None:
    lenses = lenses_at_a_glance(three_row_desk(), Filters()).set_index("key")
    assert lenses.loc["orla-50", ["frames", "wrong", "judged", "kept"]].tolist() == [2, 1, 2, 1]
    assert str(lenses.loc["orla-50", "last"]) == "2026-05-02 14:20:00"
    assert lenses["last"].isna().tolist() == [False, True]


@pytest.mark.parametrize("by", ["lens", "body", "adapter", "trip"])
def test_sharp_rates_agree_with_counting_by_hand(by: str) -> None:
    desk = season_desk(500, measured=True)
    rates = keep_rates(desk, Filters(), by).set_index("key")  # type: ignore[arg-type]
    kind = desk.measures["blur_kind"].astype("object")
    assert rates["sharp"].sum() == (kind == "sharp").sum() > 0
    assert rates["never_measured"].sum() == kind.isna().sum() > 0
    for key, row in rates.iterrows():
        mine = desk.frames[by].isna() if key == NOT_KNOWN else desk.frames[by] == key
        here = kind[mine.to_numpy()]
        assert row["sharp"] == (here == "sharp").sum()
        assert row["sharp_judged"] == here.isin(["sharp", "shake", "missed-focus", "subject-moved"]).sum()
        assert row["sharp_unknown"] == (here == "unknown").sum()
        assert row["frames"] == row[["sharp_judged", "sharp_unknown", "never_measured"]].sum()
        fields = row[list(FIELDS)].sum()
        told = desk.frames["kept"][mine].notna().to_numpy() & here.notna().to_numpy() & (here != "unknown").to_numpy()
        assert fields == told.sum()


def test_sharp_rates_follow_the_filters_and_the_scales() -> None:
    desk = season_desk(500, measured=True)
    part = Filters(lens=("orla-50",))
    mine = (desk.frames["lens"] == "orla-50").to_numpy()
    sharp = int((desk.measures["blur_kind"].astype("object")[mine] == "sharp").sum())
    assert keep_rates(desk, part, "trip")["sharp"].sum() == sharp
    (one,) = kept_and_sharp_by_lens(desk, part).to_dict("records")
    assert one["name"] == "Orla 50 mm f/1.4"
    assert one["both"] == sum(one[field] for field in FIELDS)
    slow = keep_rates_by_slowness(desk, Filters())
    assert slow["sharp"].sum() <= slow["sharp_judged"].sum() <= slow["frames"].sum()
    assert ((slow["sharp_low"] <= slow["sharp_rate"]) | slow["sharp_rate"].isna()).all()


def test_a_desk_that_was_never_measured_has_no_sharp_column() -> None:
    assert "sharp" not in keep_rates(season_desk(60), Filters())
    assert kept_and_sharp_by_lens(season_desk(60), Filters()).empty


def test_an_empty_desk_has_no_rates() -> None:
    for rates in (keep_rates, keep_rates_by_aperture, keep_rates_by_slowness, lenses_at_a_glance):
        assert rates(empty_desk(), Filters()).empty


def test_rates_agree_with_the_ledger_on_the_sample_library(sample_workspace: Path) -> None:
    desk = workspace_desk(sample_workspace)()
    for by in ("lens", "body", "trip"):
        ledger = ledger_of(open_workspace(sample_workspace), by).rows.set_index("id")
        rates = keep_rates(desk, Filters(), by).set_index("key").drop(index=NOT_KNOWN, errors="ignore")
        assert rates["frames"].to_dict() == ledger["frames"].to_dict()
        assert rates["kept"].to_dict() == ledger["kept"].to_dict()
        judged = rates["judged"] > 0
        assert rates["low"][judged].to_dict() == pytest.approx(ledger["low"][rates.index[judged]].to_dict())


def test_sharp_rates_agree_with_the_ledger(own_workspace: Path) -> None:
    write_measures(open_workspace(own_workspace))
    ledger = ledger_of(open_workspace(own_workspace), "lens").rows.set_index("id")
    rates = keep_rates(workspace_desk(own_workspace)(), Filters()).set_index("key").drop(index=NOT_KNOWN)
    columns = ["sharp", "sharp_judged", "sharp_unknown", "never_measured", *FIELDS]
    assert rates[columns].to_dict() == ledger[columns].to_dict()
    assert rates["sharp_low"].to_dict() == pytest.approx(ledger["sharp_low"].to_dict())
