"""
The program against the expected answers: the whole way from the files to the audit.

Strict where one frame's own record and the log are enough. Where the sequence, the pixels or a person must speak, the
program may be wrong here, but it must not lose or double a frame. Where the reducer came off without any trace but the
picture's scale, metadata is rightly sure and wrong; that is what the pixels are for.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import audit_workspace, joined_table
from auditor.pipeline.indexing import index_archives
from sample_library import SampleLibrary

KEPT = {True: "yes", False: "no"}


@pytest.fixture(scope="session")
def audited(library: SampleLibrary, tmp_path_factory: pytest.TempPathFactory) -> pd.DataFrame:
    """Return expected and found side by side, one row a frame; the found columns end in ``_found``."""
    folder: Path = tmp_path_factory.mktemp("workspace")
    for source in (library.kit, library.log, library.settings):
        shutil.copy(source, folder / source.name)
    workspace = open_workspace(folder)
    index_archives({"main": library.archive}, workspace.store, jobs=1)
    audit_workspace(workspace)
    found = joined_table(workspace)
    expected = pd.read_csv(library.expected, keep_default_na=False)
    joined = expected.merge(
        found, on=["archive", "path"], how="outer", suffixes=("", "_found"), validate="one_to_one", indicator=True
    )
    assert set(joined["_merge"]) == {"both"}
    return joined


@pytest.mark.parametrize("column", ["trip", "body", "lens", "adapter", "setting_verdict", "setting_cause"])
def test_what_one_frame_tells_is_found(audited: pd.DataFrame, column: str) -> None:
    told = audited[audited["needs"] == "frame"]
    found = told[f"{column}_found"].astype("object").where(told[f"{column}_found"].notna(), "")

    wrong = told[found != told[column]]

    assert wrong[["path", "why", column, f"{column}_found"]].to_dict("records") == []


def test_the_right_setting_is_that_of_the_thin_lens(audited: pd.DataFrame) -> None:
    """Within the range that the program gives; the scenario knows a distance that the log may not have."""
    told = audited[(audited["needs"] == "frame") & ~audited["setting_verdict"].eq("not-needed")]
    told = told[~told["why"].str.contains("zoom-position-not-logged")]
    right = told["right_setting_mm"].astype(float)

    assert (right >= told["right_setting_low_mm"] - 0.01).all()
    assert (right <= told["right_setting_high_mm"] * 1.001 + 0.01).all()
    # Far away the thin lens is within 2.5 % of infinity (nearer than 40 f nothing here is but what was logged).
    assert (right / told["right_setting_mm_found"]).between(0.999, 1.025).all()


def test_typed_values_are_found_wherever_they_were_recorded(audited: pd.DataFrame) -> None:
    typed = audited[audited["setting_mm"].ne("")]

    assert typed["setting_mm"].astype(float).tolist() == typed["setting_mm_found"].tolist()
    assert audited.loc[audited["setting_mm"].eq(""), "setting_mm_found"].isna().all()


def test_keepers_are_those_of_the_scenario(audited: pd.DataFrame) -> None:
    kept = audited["kept_found"].map(KEPT).astype("object").fillna("")

    assert kept.tolist() == audited["kept"].tolist()


def test_two_pairings_that_one_setting_fits_are_not_told_apart_for_sure(audited: pd.DataFrame) -> None:
    doubtful = audited[audited["why"] == "same-setting-two-pairings"]
    wrong = doubtful[(doubtful["lens"] != doubtful["lens_found"]) | (doubtful["adapter"] != doubtful["adapter_found"])]

    assert len(doubtful) == 16
    assert (wrong["pairing_confidence"].fillna(0) < 0.9).all()


def test_the_tripod_with_the_stabiliser_on_is_flagged(audited: pd.DataFrame) -> None:
    flagged = audited["flags"].map(lambda flags: "stabiliser-on-tripod" in list(flags))

    assert set(audited.loc[flagged, "why"]) == {"tripod-stabiliser-on"}
    assert flagged.sum() == (audited["why"] == "tripod-stabiliser-on").sum()
