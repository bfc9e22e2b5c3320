"""``ledger`` and ``plan`` as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from auditor.cli.app import main
from auditor.model.workspace import open_workspace
from auditor.pipeline.condensing import store_condensed
from auditor.pipeline.ledgers import condensed_of
from tests.measures import made_up_measures, write_measures


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(list(arguments)) == 0
    return capsys.readouterr().out


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, object]:
    loaded = json.loads(said(capsys, *arguments, "--json"))
    assert isinstance(loaded, dict)
    return loaded


def test_the_ledger_says_how_bursts_were_counted(sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "ledger", str(sample_workspace))
    assert "484 judged frames came in 193 bursts" in out
    found = document(capsys, "ledger", str(sample_workspace))
    assert 0 < found["correlation"] < 1  # type: ignore[operator]
    assert set(found["prior"]) == {"alpha", "beta"}  # type: ignore[call-overload]
    row = found["rows"][0]  # type: ignore[index]
    assert row["burst_low"] < row["low"] < row["keep_rate"] < row["high"] < row["burst_high"]


def test_the_ledger_shows_sharp_beside_kept_once_frames_were_measured(
    own_workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = str(own_workspace)
    out = said(capsys, "ledger", folder)
    assert "none of them was measured (steadykeep measure)" in out
    assert "Told" not in out
    assert document(capsys, "ledger", folder)["sharpness"] is None

    write_measures(open_workspace(own_workspace))
    out = said(capsys, "ledger", folder, "--explain")
    assert out.splitlines()[0].split()[-5:] == ["Told", "Sharp", "95", "%", "interval"]
    assert "\nTold: " in out
    assert "about one answer in twenty is wrong" in out
    assert "never measured" in out
    assert "kept though soft" in out
    found = document(capsys, "ledger", folder)
    rows, told = found["rows"], found["sharpness"]
    assert sum(row["sharp"] for row in rows) == told["sharp"]  # type: ignore[attr-defined, index]
    row = rows[0]  # type: ignore[index]
    assert row["sharp_low"] < row["sharp_rate"] < row["sharp_high"]
    assert row["sharp_rate"] == row["sharp"] / row["sharp_judged"]


def test_a_lens_of_which_the_pixels_cannot_tell_has_a_dash(
    own_workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workspace = open_workspace(own_workspace)
    write_measures(workspace, made_up_measures(workspace).assign(blur_kind="unknown"))
    out = said(capsys, "ledger", str(own_workspace))
    assert out.splitlines()[1].split()[-3:] == ["0", "-", "-"]
    assert "0 of 0 frames whose kind of blur is told are sharp. Left out: " in out
    assert "kept though soft" not in out
    assert document(capsys, "ledger", str(own_workspace))["rows"][0]["sharp_rate"] is None  # type: ignore[index]


@pytest.mark.parametrize("by", ["aperture", "distance", "time", "exposure"])
def test_the_ledger_goes_by_what_was_used(by: str, sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert document(capsys, "ledger", str(sample_workspace), "--by", by)["rows"]


def test_a_filter_and_its_misspelling(sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(sample_workspace)
    found = document(capsys, "ledger", folder, "--by", "trip", "--only", "lens=hale-85")
    assert sum(row["frames"] for row in found["rows"]) == 172  # type: ignore[attr-defined]
    assert main(["ledger", folder, "--only", "lens=hale-8"]) == 1
    assert "hale-85" in capsys.readouterr().err


def test_fair_comparison_says_what_is_not_shown(sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "ledger", str(sample_workspace), "--fair", "--explain")
    assert "Nothing here says that hale-85 is the worse one" in out
    assert "cannot be compared" in out
    assert "Holm's correction" in out
    found = document(capsys, "ledger", str(sample_workspace), "--between", "hale-85", "orla-50")
    (one,) = found["comparisons"]  # type: ignore[misc]
    assert one["difference"]["low"] < 0 < one["difference"]["high"]
    assert one["sentence"].startswith("As counted, hale-85 kept 51 of 136")


def test_what_was_lost_is_said_both_ways(sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "ledger", str(sample_workspace), "--lost", "--by", "cause", "--explain")
    assert "carried-over" in out
    assert "by the shake model, and" in out
    assert "of the sharp frames kept" in out
    found = document(capsys, "ledger", str(sample_workspace), "--lost", "--by", "trip")
    assert found["rows"][-1]["id"] == "all"  # type: ignore[index]


@pytest.mark.parametrize("arguments", [("--fair", "--by", "trip"), ("--lost", "--by", "focal"), ("--by", "cause")])
def test_a_grouping_that_does_not_fit_is_usage(arguments: tuple[str, ...], sample_workspace: Path) -> None:
    assert main(["ledger", str(sample_workspace), *arguments]) == 2


@pytest.mark.parametrize("arguments", [(), ("--fair",), ("--lost",)])
def test_every_column_is_explained(
    arguments: tuple[str, ...], sample_workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = said(capsys, "ledger", str(sample_workspace), "--explain", *arguments)
    headings = {
        (): ("Lens", "Frames", "Judged", "Kept", "Keep rate", "95 % interval", "Drawn in"),
        ("--fair",): ("As counted", "Same conditions", "Difference", "Left out", "Said"),
        ("--lost",): ("Wrong", "Not kept", "Lost, by shake", "Lost, by your keeping"),
    }
    assert [heading for heading in headings[arguments] if f"\n{heading}: " not in out] == []


def test_an_archive_that_was_never_judged_says_so(own_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    workspace = open_workspace(own_workspace)
    store_condensed(workspace, condensed_of(workspace).assign(kept=np.int8(-1)))
    folder = str(own_workspace)
    assert "Nothing was judged" in said(capsys, "ledger", folder)
    assert "Nothing to compare" in said(capsys, "ledger", folder, "--fair")
    assert "Nothing to count" in said(capsys, "ledger", folder, "--lost")
    assert document(capsys, "ledger", folder, "--lost")["sentence"] is None
    store_condensed(workspace, condensed_of(workspace).assign(lens=pd.Categorical(["orla-50"] * 623)))
    assert "frames have no known lens" not in said(capsys, "plan", folder)


def test_a_cost_that_cannot_be_told_is_a_dash(own_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    workspace = open_workspace(own_workspace)
    condensed = condensed_of(workspace)
    alone = np.where(condensed["setting_verdict"].isin(["too-short", "too-long"]), 50.0, condensed["difficulty_stops"])
    store_condensed(workspace, condensed.assign(difficulty_stops=alone.astype(np.float32)))
    rows = document(capsys, "ledger", str(own_workspace), "--lost")["rows"]
    assert rows[-1]["kept_lost"] is None  # type: ignore[index]
    assert " - " in said(capsys, "ledger", str(own_workspace), "--lost")


def test_an_archive_that_was_never_judged_still_has_a_plan(
    own_workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workspace = open_workspace(own_workspace)
    store_condensed(workspace, condensed_of(workspace).assign(kept=np.int8(-1)))
    folder = str(own_workspace)
    assert "too little to say" in said(capsys, "plan", folder)


def test_the_plan_says_its_reasons_and_the_caution(sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "plan", str(sample_workspace))
    assert "hale-85: use differently" in out
    assert "mend the setting first" in out
    assert "A rate is not proof" in out
    assert "3 frames without a known lens" in out


def test_the_plan_explains_every_number(sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "plan", str(sample_workspace), "--explain")
    for words in ("Keepers a year:", "Trend:", "Focal length:", "In reach:", "Same conditions:", "The setting's fault:",
                  "Cost:", "For selling:"):  # fmt: skip
        assert out.count(words) >= 6


def test_the_plan_shows_what_goes_with_a_lens(sample_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = said(capsys, "plan", str(sample_workspace), "--what-if", "hale-85", "--what-if", "orla-50")
    assert "Without hale-85 and orla-50" in out
    found = document(capsys, "plan", str(sample_workspace), "--what-if", "hale-85")
    assert found["what_if"]["after"] < found["what_if"]["before"]  # type: ignore[index]
    assert document(capsys, "plan", str(sample_workspace))["what_if"] is None
    assert main(["plan", str(sample_workspace), "--what-if", "hale-8"]) == 1
    assert 'did you mean "hale-85"' in capsys.readouterr().err


def test_a_lens_sold_already_is_named(own_workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kit = own_workspace / "kit.toml"
    kit.write_text(kit.read_text().replace('id = "hale-35"', 'id = "hale-35"\nsold = 2026-11-01', 1))
    out = said(capsys, "plan", str(own_workspace))
    assert "Sold already, and only compared with: hale-35" in out
    assert "hale-35: " not in out.replace("with: hale-35", "")
    no_price = kit.read_text().replace("price = 140.0\n", "")
    kit.write_text(no_price)
    plans = {one["id"]: one for one in document(capsys, "plan", str(own_workspace))["lenses"]}  # type: ignore[attr-defined]
    assert plans["orla-50"]["price_a_keeper"] is None
