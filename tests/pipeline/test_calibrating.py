"""Calibration of a whole workspace, and what is written when told to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from auditor.audit.calibration_series import plan_table
from auditor.errors import InputError, KitError
from auditor.model.workspace import open_workspace
from auditor.pipeline.auditing import audit_workspace, joined_table
from auditor.pipeline.calibrating import HandReport, blur_budgets, calibrate_hand, write_hand
from auditor.pipeline.setting_tests import pairing_to_test, plan_setting, read_setting, write_plan, write_setting
from auditor.shake.estimates import Estimate, HandFit


def test_the_sample_s_hand(own_workspace: Path):
    report = calibrate_hand(open_workspace(own_workspace), "one")
    assert report.body == "one"
    assert report.fit.frames + sum(report.left_out.values()) > 100
    # Half its frames are set wrong, none has the stabiliser off: the stops are declined.
    assert not report.fit.stops.told
    assert any("cannot tell the stops" in sentence for sentence in report.words)


def test_the_body_with_most_judged_frames_is_taken(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    counts = {body: calibrate_hand(workspace, body).fit.frames for body in ("one",)}
    assert calibrate_hand(workspace).body in {*counts, "two"}
    with pytest.raises(KitError, match="three"):
        calibrate_hand(workspace, "three")


def test_too_few_frames_are_said_with_what_was_left_out(own_workspace: Path):
    log = own_workspace / "log.csv"
    log.write_text(log.read_text(encoding="utf-8").replace(",hand,", ",tripod,"), encoding="utf-8")
    workspace = open_workspace(own_workspace)
    try:
        found = calibrate_hand(workspace, "two").left_out
    except InputError as error:
        found = " ".join(error.problems)
    assert "not held by hand" in str(found)


def test_nothing_judged(own_workspace: Path):
    settings = own_workspace / "settings.toml"
    text = settings.read_text(encoding="utf-8")
    listed = text.replace('rule = "rating"', 'rule = "folder"')
    settings.write_text(listed.replace('folder = "selected"', 'folder = "no-such-folder"'), encoding="utf-8")
    workspace = open_workspace(own_workspace)
    audit_workspace(workspace)
    with pytest.raises(InputError, match="no frame was ever judged"):
        calibrate_hand(workspace)


def _report(**told: bool) -> HandReport:
    values = {"shake_mrad": 0.2134, "exponent": 0.777, "spread_stops": 0.5, "stops": 4.26, "stabilised_mrad": 0.02}
    fit = HandFit(
        **{name: Estimate(value, value / 2, value * 2, told.get(name, True)) for name, value in values.items()},
        other_keep=Estimate(0.9, 0.8, 0.95, True), frames=100, stabilised=80, off=20, burst_correlation=0.0,
        effective_frames=100.0, confidence=0.9,
    )  # fmt: skip
    return HandReport("one", fit, {}, ())


def test_what_was_told_is_written_and_nothing_else(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    before = workspace.folder.joinpath("kit.toml").read_text(encoding="utf-8")
    assert {path.name for path in write_hand(workspace, _report())} == {"settings.toml", "kit.toml"}
    again = open_workspace(own_workspace)
    assert (again.settings.hand.shake_mrad, again.settings.hand.exponent) == (0.213, 0.78)
    assert again.kit.body("one").stabiliser_stops == 4.3
    changed = workspace.folder.joinpath("kit.toml").read_text(encoding="utf-8")
    assert [a for a, b in zip(before.splitlines(), changed.splitlines(), strict=True) if a != b] == [
        next(line for line in before.splitlines() if line.startswith("stabiliser_stops"))
    ]


def test_what_was_not_told_is_not_written(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    assert write_hand(workspace, _report(shake_mrad=False, stops=False)) == ()
    assert open_workspace(own_workspace).settings.hand == workspace.settings.hand


def test_a_workspace_without_settings_gets_them(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    (own_workspace / "settings.toml").unlink()
    write_hand(workspace, _report(stops=False))
    assert open_workspace(own_workspace).settings.hand.shake_mrad == 0.213


def _tested(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    pairing = pairing_to_test(workspace, "hale-85", "m42-reducer", "one")
    return workspace, plan_setting(workspace, pairing, 3.0)


def _fill(table: Path, best_mm: float) -> None:
    rows = pd.read_csv(table)
    left = np.hypot(1 - rows["setting_mm"] / best_mm, 0.08)
    scatter = np.exp(np.random.default_rng(2).normal(0, 0.05, len(rows)))
    rows.assign(edge_width_px=50.0 * left * scatter).to_csv(table, index=False)


def test_plan_fill_in_read_write(own_workspace: Path, tmp_path: Path):
    workspace, plan = _tested(own_workspace)
    page, table = write_plan(plan, tmp_path)
    assert page.read_text(encoding="utf-8").count('class="blank"') == 2 * len(plan.frames)
    assert len(pd.read_csv(table)) == len(plan.frames) == len(plan_table(plan))
    _fill(table, plan.predicted_mm * 1.06)
    result = read_setting(workspace, plan, str(table))
    assert result.reading.told
    assert result.reading.best_mm == pytest.approx(plan.predicted_mm * 1.06, rel=0.02)
    write_setting(workspace, result, "lens")
    rows = open_workspace(own_workspace).kit.lens("hale-85").breathing
    assert rows[-1] == (3.0, pytest.approx(result.lens_setting_mm, abs=0.06))
    # Told its answer, the kit lets expect what was measured.
    again = plan_setting(open_workspace(own_workspace), pairing_to_test(open_workspace(own_workspace), "hale-85",
                         "m42-reducer", "one"), 3.0)  # fmt: skip
    assert again.predicted_mm == pytest.approx(result.reading.best_mm, rel=0.002)


def test_the_body_s_gain_is_written_instead(own_workspace: Path, tmp_path: Path):
    workspace, plan = _tested(own_workspace)
    _, table = write_plan(plan, tmp_path)
    _fill(table, plan.predicted_mm * 0.95)
    write_setting(workspace, read_setting(workspace, plan, str(table)), "body")
    assert open_workspace(own_workspace).kit.body("one").stabiliser_gain == pytest.approx(1 / 0.95, rel=0.02)


def test_nothing_is_written_of_a_test_that_does_not_tell(own_workspace: Path, tmp_path: Path):
    workspace, plan = _tested(own_workspace)
    _, table = write_plan(plan, tmp_path)
    rows = pd.read_csv(table)
    rows.assign(edge_width_px=np.random.default_rng(1).rayleigh(9.0, len(rows))).to_csv(table, index=False)
    with pytest.raises(InputError, match="nothing was written"):
        write_setting(workspace, read_setting(workspace, plan, str(table)), "lens")


def test_a_zoom_has_no_measured_table(own_workspace: Path, tmp_path: Path):
    workspace = open_workspace(own_workspace)
    zoom = next(lens.id for lens in workspace.kit.lenses if lens.is_zoom)
    plan = plan_setting(workspace, pairing_to_test(workspace, zoom, "m42-plain", "one"), 3.0)
    _, table = write_plan(plan, tmp_path)
    _fill(table, plan.predicted_mm)
    with pytest.raises(InputError, match="one focal length"):
        write_setting(workspace, read_setting(workspace, plan, str(table)), "lens")


def test_what_cannot_be_read(own_workspace: Path):
    workspace, plan = _tested(own_workspace)
    with pytest.raises(InputError, match="cannot be read as a table"):
        read_setting(workspace, plan, str(own_workspace / "missing.csv"))
    with pytest.raises(InputError, match="no indexed frame"):
        read_setting(workspace, plan, "no/such/folder")
    folder = "/".join(_some_path(workspace).split("/")[:-1])
    with pytest.raises(InputError, match=r"measured|cannot be read"):
        read_setting(workspace, plan, folder)


def _some_path(workspace) -> str:
    return str(joined_table(workspace)["path"].iloc[0])


def test_which_body(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    with pytest.raises(InputError, match="several bodies"):
        pairing_to_test(workspace, "hale-85", "m42-reducer")
    with pytest.raises(KitError, match="not in the kit"):
        pairing_to_test(workspace, "hale-58", "m42-reducer")
    with pytest.raises(KitError, match="does not fit"):
        pairing_to_test(workspace, "hale-85", "")


def test_what_limited_each_frame(own_workspace: Path):
    workspace = open_workspace(own_workspace)
    budgets, frames = blur_budgets(workspace), joined_table(workspace)
    assert budgets[["archive", "path"]].equals(frames[["archive", "path"]])
    known = budgets["limiting_cause"].notna()
    assert known.sum() > 100
    shaken = frames["shake_blur_um"] > 100
    assert set(budgets.loc[known & shaken, "limiting_cause"]) <= {"shake", "subject"}
    assert (budgets["mtf50_low_lp_mm"].dropna() <= budgets["mtf50_high_lp_mm"].dropna()).all()
