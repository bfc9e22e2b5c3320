from __future__ import annotations

import os
from pathlib import Path

import pytest

from auditor.errors import WorkspaceError
from auditor.storage.datasets import replace_table
from dashboards.app import create_app, turn_to
from dashboards.watched import workspace_desk
from tests.dashboards.desks import THREE_AUDITED, THREE_FRAMES, audit_table, frames_table
from tests.dashboards.test_app import text_of

KIT_TOML = """
[[bodies]]
id = "one"
name = "Silver body"
exif_model = "Silverline 2"
sensor_mm = [17.4, 13.0]
mount = "MFT"
stabiliser_stops = 5.0

[[lenses]]
id = "orla-50"
name = "{name}"
focal_mm = 50
mount = "M42"
"""


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    (tmp_path / "kit.toml").write_text(KIT_TOML.format(name="Orla 50 mm f/1.4"))
    replace_table(tmp_path / "store", "frames", frames_table(THREE_FRAMES[:1]))
    replace_table(tmp_path / "store", "audit", audit_table(THREE_AUDITED[:1]))
    return tmp_path


def test_what_was_indexed_meanwhile_is_shown(workspace: Path) -> None:
    now = workspace_desk(workspace)
    assert len(now()) == 1
    replace_table(workspace / "store", "frames", frames_table(THREE_FRAMES))
    assert len(now()) == 3


def test_times_are_those_after_clock_corrections(workspace: Path) -> None:
    (workspace / "settings.toml").write_text(
        '[[clocks]]\nbody = "one"\nfrom = 2026-05-01T00:00:00\nto = 2026-05-01T23:00:00\nadd_minutes = -60\n',
        encoding="utf-8",
    )
    assert str(workspace_desk(workspace)().frames["captured_at"].iloc[0]) == "2026-05-01 09:00:00"


def test_an_unchanged_workspace_is_not_read_again(workspace: Path) -> None:
    now = workspace_desk(workspace)
    assert now() is now()


def test_a_kit_half_edited_leaves_the_pages_as_they_were_and_says_so(workspace: Path) -> None:
    now = workspace_desk(workspace)
    (workspace / "kit.toml").write_text("[[bodies]\n")
    desk = now()
    assert len(desk) == 1
    assert "kit.toml" in desk.notice
    assert "kit.toml" in text_of(turn_to(desk, "/", "")[0])
    (workspace / "kit.toml").write_text(KIT_TOML.format(name="Orla, mended"))
    os.utime(workspace / "kit.toml", (1, 1))
    assert now().notice == ""
    assert now().name("lens", "orla-50") == "Orla, mended"


def test_a_folder_that_is_no_workspace_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WorkspaceError):
        workspace_desk(tmp_path)


def test_the_app_shows_the_desk_as_it_is(workspace: Path) -> None:
    client = create_app(workspace_desk(workspace)).server.test_client()
    assert client.get("/table/keep-rates-by-lens.csv").text.count("\n") == 2
    replace_table(workspace / "store", "frames", frames_table(THREE_FRAMES))
    assert client.get("/table/keep-rates-by-lens.csv").text.count("\n") == 3
