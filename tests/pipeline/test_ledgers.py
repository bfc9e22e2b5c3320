"""The ledger, fair comparisons, costs and the plan of a whole workspace: the sample library's."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from auditor.audit.condensed import CONDENSED
from auditor.audit.fair.cost import CAUSE_GROUPINGS
from auditor.audit.groupings import GROUPINGS
from auditor.audit.ledger import keep_rates
from auditor.errors import InputError, KitError, StoreError, WorkspaceError
from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import audit_workspace, joined_table
from auditor.pipeline.condensing import read_condensed, store_condensed, with_log, write_condensed
from auditor.pipeline.ledgers import comparisons_of, condensed_of, cost_of, ledger_of, parse_only
from auditor.pipeline.planning import plan_of


def test_what_is_condensed_counts_as_the_whole_table_does(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    joined = joined_table(workspace)
    for by in ("lens", "pairing", "body", "trip", "focal"):
        ours, whole = ledger_of(workspace, by), keep_rates(joined, by)
        columns = ["id", "frames", "judged", "kept", "keep_rate", "low", "high"]
        ours_rows = ours.rows[columns].sort_values("id").reset_index(drop=True)
        pd.testing.assert_frame_equal(ours_rows, whole.rows[columns].sort_values("id").reset_index(drop=True))
        assert ours.left_out == whole.left_out


def test_an_audit_makes_it_and_it_is_made_again_where_it_is_missing_or_stale(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    audit_workspace(workspace)
    by_audit = read_condensed(workspace)
    assert by_audit is not None
    shutil.rmtree(own_workspace / "store" / "condensed")
    assert read_condensed(workspace) is None
    made = condensed_of(workspace)
    pd.testing.assert_frame_equal(made, by_audit)
    assert list(made.columns) == list(CONDENSED)
    pd.testing.assert_frame_equal(condensed_of(workspace), made)
    assert condensed_of(workspace, ["kept", "lens"]).columns.tolist() == ["lens", "kept"]
    settings = own_workspace / "settings.toml"
    settings.write_text(settings.read_text() + "\n[plan]\nburst_pause_s = 5.0\n")
    assert read_condensed(open_workspace(own_workspace)) is None


def test_a_damaged_file_is_made_again(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    condensed_of(workspace)
    (own_workspace / "store" / "condensed" / "frames.arrow").write_bytes(b"half of it")
    assert len(condensed_of(workspace)) == 623


def test_a_store_that_cannot_be_written_says_so(own_workspace: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    workspace = open_workspace(own_workspace)
    made = condensed_of(workspace)

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("auditor.storage.places.FolderPlace.write", full)
    with pytest.raises(StoreError, match="no space left"):
        store_condensed(workspace, made)


def test_nothing_audited_is_said(tmp_path: Path) -> None:
    for name, text in (("kit.toml", ""), ("settings.toml", ""), ("log.csv", "start,body\n")):
        (tmp_path / name).write_text(text)
    with pytest.raises(WorkspaceError, match="index"):
        ledger_of(open_workspace(tmp_path), "lens")


@pytest.mark.parametrize("by", GROUPINGS)
def test_every_grouping_counts_every_frame_once(by: str, sample_workspace: Path) -> None:
    found = ledger_of(open_workspace(sample_workspace), by)
    assert found.rows["judged"].sum() + sum(found.left_out.values()) == 623


def test_filters_leave_only_their_frames_and_name_what_is_near(sample_workspace: Path) -> None:
    workspace = open_workspace(sample_workspace)
    found = ledger_of(workspace, "trip", only={"lens": "hale-85"})
    assert found.rows["frames"].sum() + found.left_out.get("no trip, since there is no time", 0) == 172
    with pytest.raises(InputError, match="orla-50"):
        ledger_of(workspace, "trip", only={"lens": "orla-5"})
    with pytest.raises(InputError, match="lens=orla-50"):
        parse_only(["lense=orla-50", "lens"])


def test_the_forgotten_setting_is_not_held_against_the_hale(sample_workspace: Path) -> None:
    # The story: the Hale 85 was used at dusk with the setting left at 50, and keeps little; nothing is wrong with it.
    found = {one.first: one for one in comparisons_of(open_workspace(sample_workspace), "lens")}
    hale = found["hale-85"]
    assert hale.crude[0].rate < hale.crude[1].rate
    assert hale.verdict == "not shown to differ"
    assert not [one for one in found.values() if one.verdict == "worse"]


def test_two_can_be_compared_by_name_and_bodies_too(sample_workspace: Path) -> None:
    workspace = open_workspace(sample_workspace)
    (found,) = comparisons_of(workspace, "lens", ("hale-85", "orla-50"))
    assert (found.first, found.second, found.mix) == ("hale-85", "orla-50", "both")
    assert [one.first for one in comparisons_of(workspace, "body")] == ["one", "two"]
    with pytest.raises(InputError, match="hale-85"):
        comparisons_of(workspace, "lens", ("hale-8", "orla-50"))
    with pytest.raises(InputError, match="there are"):
        comparisons_of(workspace, "lens", ("zz", "orla-50"))


@pytest.mark.parametrize("by", CAUSE_GROUPINGS)
def test_the_cost_is_counted_by_each_grouping(by: str, sample_workspace: Path) -> None:
    cost = cost_of(open_workspace(sample_workspace), by)
    assert cost is not None
    total = cost.rows.iloc[-1]
    assert total["id"] == "all"
    assert cost.rows["wrong"].iloc[:-1].sum() == total["wrong"] == cost.judged_wrong
    assert 0 < total["shake_low"] < total["shake_lost"] < total["shake_high"] < total["failed"]
    assert 0 < total["kept_low"] < total["kept_lost"] < total["kept_high"] < total["failed"]


def test_most_was_lost_to_the_setting_that_stayed_at_fifty(sample_workspace: Path) -> None:
    cost = cost_of(open_workspace(sample_workspace), "cause")
    assert cost is not None
    rows = cost.rows[cost.rows["id"] != "all"].set_index("id")
    assert rows["shake_lost"].idxmax() == rows["kept_lost"].idxmax() == "carried-over"


def test_the_plan_mends_the_hale_s_setting_first(sample_workspace: Path) -> None:
    planned = plan_of(open_workspace(sample_workspace), ["hale-85"])
    verdicts = {one.lens: one.verdict for one in planned.lenses}
    assert verdicts["hale-85"] == "use differently"
    assert "candidate to sell" not in verdicts.values()
    assert planned.unknown == 3
    assert planned.what_if is not None
    assert planned.what_if.after < planned.what_if.before == planned.what_if.keepers
    with pytest.raises(KitError, match="hale-85"):
        plan_of(open_workspace(sample_workspace), ["hale-8"])


def test_an_archive_that_was_never_judged_has_nothing_to_compare(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    never = condensed_of(workspace).assign(kept=np.int8(-1))
    store_condensed(workspace, never)
    assert comparisons_of(workspace, "lens") == []
    assert cost_of(workspace, "trip") is None
    assert plan_of(workspace).what_if is None


def test_an_audit_can_hand_over_what_it_made(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    written = write_condensed(workspace, with_log(joined_table(workspace), workspace))
    read = read_condensed(workspace)
    assert read is not None
    pd.testing.assert_frame_equal(read, written)
