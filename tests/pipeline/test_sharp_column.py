"""The column of sharp frames beside the condensed audit: right, kept, and made anew where it has to be."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from auditor.audit.ledger import keep_rates
from auditor.audit.sharp_frames import SHARP_COLUMNS
from auditor.errors import StoreError
from auditor.model.workspace import open_workspace
from auditor.pipeline import sharp_column as module
from auditor.pipeline.auditing import audit_workspace
from auditor.pipeline.exporting import frames_with_measures
from auditor.pipeline.ledgers import condensed_of, ledger_of
from auditor.pipeline.sharp_column import sharp_column
from tests.measures import made_up_measures, write_measures


def _rows(rows: pd.DataFrame) -> pd.DataFrame:
    return rows[["id", *SHARP_COLUMNS]].sort_values("id").reset_index(drop=True)


@pytest.mark.parametrize("by", ["lens", "trip"])
def test_the_condensed_frames_count_as_the_whole_table_does(by: str, own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    write_measures(workspace)
    condensed = condensed_of(workspace)
    found = ledger_of(workspace, by)
    whole = frames_with_measures(workspace)
    reference = keep_rates(whole.assign(burst=range(len(whole))), by)
    single = keep_rates(condensed.assign(sharp=sharp_column(workspace), burst=range(len(condensed))), by)
    pd.testing.assert_frame_equal(_rows(single.rows), _rows(reference.rows))
    counts = [name for name in SHARP_COLUMNS if "burst" not in name]
    pd.testing.assert_frame_equal(_rows(found.rows)[counts], _rows(reference.rows)[counts])


def test_it_is_kept_and_made_anew_when_something_else_was_measured(
    own_workspace: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    workspace = open_workspace(own_workspace)
    condensed_of(workspace)
    assert sharp_column(workspace) is None  # nothing was measured
    measures = write_measures(workspace)
    first = sharp_column(workspace)
    assert first is not None
    assert (first == 1).sum() == (measures["blur_kind"] == "sharp").sum()
    assert (first == -2).sum() == 623 - len(measures)

    write_measures(workspace, measures.assign(blur_kind="shake"))
    second = sharp_column(workspace)
    assert second is not None
    assert set(second.tolist()) == {0, -2}

    def never(*_: object) -> None:
        raise AssertionError("made again")

    monkeypatch.setattr(module, "_made", never)
    kept = sharp_column(workspace)
    assert kept is not None
    assert kept.tolist() == second.tolist()


def test_an_audit_makes_it_for_its_own_order_of_frames(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    write_measures(workspace)
    before = ledger_of(workspace, "lens").rows
    settings = own_workspace / "settings.toml"
    settings.write_text(settings.read_text() + "\n[plan]\nburst_pause_s = 60.0\n")
    workspace = open_workspace(own_workspace)
    audit_workspace(workspace)
    assert (own_workspace / "store" / "condensed" / "sharp.arrow").exists()
    after = ledger_of(workspace, "lens").rows
    counts = ["id", "sharp", "sharp_judged", "kept_sharp", "left_soft"]
    pd.testing.assert_frame_equal(before[counts], after[counts])


def test_a_damaged_or_missing_file_is_made_again(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    condensed_of(workspace)
    write_measures(workspace)
    good = sharp_column(workspace)
    assert good is not None
    place = own_workspace / "store" / "condensed" / "sharp.arrow"
    for spoil in (lambda: place.write_bytes(b"half of it"), place.unlink):
        spoil()
        again = sharp_column(workspace)
        assert again is not None
        assert again.tolist() == good.tolist()


def test_without_a_condensed_audit_there_is_nothing_to_stand_beside(own_workspace: Path) -> None:
    workspace = open_workspace(own_workspace)
    write_measures(workspace)
    (own_workspace / "store" / "condensed" / "frames.arrow").unlink()
    assert sharp_column(workspace) is None


def test_a_store_that_cannot_be_written_says_so(own_workspace: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    workspace = open_workspace(own_workspace)
    condensed_of(workspace)
    write_measures(workspace, made_up_measures(workspace))

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr("auditor.storage.places.FolderPlace.write", full)
    with pytest.raises(StoreError, match="no space left"):
        sharp_column(workspace)
