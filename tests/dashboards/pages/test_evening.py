"""The first page of a workspace that has only just been begun."""

from __future__ import annotations

from pathlib import Path

from auditor.cli.app import main
from dashboards.app import turn_to
from dashboards.watched import workspace_desk
from tests.dashboards.test_app import text_of


def test_a_new_kit_is_told_what_it_lacks_first(sample_workspace: Path, tmp_path: Path) -> None:
    folder = tmp_path / "ws"
    assert main(["init", str(folder), "--archive", str(sample_workspace / "archive"), "--quiet"]) == 0
    assert main(["audit", str(folder), "--quiet"]) == 0
    desk = workspace_desk(folder)()
    told = text_of(turn_to(desk, "/", "")[0])
    assert "No wrong setting was found. Of 469 frames it cannot be told." in told
    assert "No lens of the kit fits Silverline 2, so of 483 frames no lens can be told" in told
    assert "Add it to the kit, with its adapter" not in text_of(turn_to(desk, "/card", "")[0])
    assert "typed on it: 50 mm (198 frames)" in text_of(turn_to(desk, "/kit", "")[0])
