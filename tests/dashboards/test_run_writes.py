"""A press on a frame's page: recorded for its whole run, and taken back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from auditor.model.aside import PutAside
from auditor.model.workspace import open_workspace
from auditor.pipeline.answering import load_answers
from auditor.pipeline.auditing import audit_workspace, joined_table
from auditor.pipeline.putting_aside import load_aside, put_aside
from dashboards.desk import Desk
from dashboards.flagged_grid import grid_rows
from dashboards.run_work import run_answer
from dashboards.run_writes import RunWrites
from dashboards.runs import run_around
from dashboards.thumbnails import key_of
from dashboards.undoing import undoable
from dashboards.watched import workspace_desk

FILES = ("log.csv", "answers.csv", "aside.csv")


@pytest.fixture
def now(own_workspace: Path) -> Callable[[], Desk]:
    return workspace_desk(own_workspace)


@pytest.fixture
def writes(own_workspace: Path) -> RunWrites:
    return RunWrites(own_workspace, undoable([own_workspace / name for name in FILES]))


def pressed(desk: Desk, place: int, what: str) -> dict[str, Any]:
    run = run_around(desk, place)
    assert run is not None
    ends = {"first": run["first"].isoformat(), "last": run["last"].isoformat()}
    return {"kind": "run-do", "what": what, "body": str(run["body"]), **ends}


def test_a_run_is_confirmed_or_named_otherwise(now: Callable[[], Desk], writes: RunWrites) -> None:
    desk = now()
    press = pressed(desk, int(desk.flagged[0]), "confirm")
    assert "Name the lens first" in run_answer(desk, writes, press, None, None)
    assert "no-such-lens" in run_answer(desk, writes, press, "no-such-lens", None)
    assert "Recorded for" in run_answer(desk, writes, press, "clear-25", ".")
    assert load_answers(open_workspace(writes.folder))[0][0].adapter == ""
    assert run_answer(desk, writes, press | {"what": "undo"}, None, None).startswith("Taken back: clear-25")
    assert not (writes.folder / "answers.csv").exists()


def test_a_support_noted_for_a_run_is_used_by_the_next_audit(now: Callable[[], Desk], writes: RunWrites) -> None:
    desk = now()
    place = int(desk.flagged[0])
    said = run_answer(desk, writes, pressed(desk, place, "support-tripod"), None, None)
    assert said.startswith("Noted in the log for")
    audit_workspace(open_workspace(writes.folder))
    key = desk.frames[["archive", "path"]].iloc[place]
    rows = joined_table(open_workspace(writes.folder))
    found = rows[(rows["path"] == key["path"]) & (rows["archive"] == key["archive"])].iloc[0]
    before = desk.frames.iloc[place]
    assert (found["lens"], found["adapter"]) == (before["lens"], before["adapter"])
    assert found["pairing_confidence"] == pytest.approx(before["pairing_confidence"], abs=1e-6)
    assert found["shake_blur_px"] < 0.5 * desk.frames["shake_blur_px"].iloc[place]  # a tripod: a fifth and less


def test_frames_put_aside_leave_the_list_and_come_back(now: Callable[[], Desk], writes: RunWrites) -> None:
    desk = now()
    place, before = int(desk.flagged[0]), len(desk.flagged)
    said = run_answer(desk, writes, pressed(desk, place, "fine"), None, None)
    count = before - len(now().flagged)
    assert said.startswith(f"Put aside: {count} frames")
    assert place not in now().flagged
    assert place in now().flagged_ever
    shown = grid_rows(now(), {"startRow": 0, "endRow": 500}, "?aside=1")
    assert shown is not None
    assert shown["rowCount"] == count
    assert "aside=1" in shown["rowData"][0]["href"]  # type: ignore[index]
    assert "No frame of this run is flagged" in run_answer(now(), writes, pressed(desk, place, "fine"), None, None)
    assert "Worth a look again" in run_answer(now(), writes, pressed(desk, place, "again"), None, None)
    assert len(now().flagged) == before
    writes.undo()
    assert len(now().flagged) == before - count


def test_a_frame_without_a_time_is_put_aside_alone(now: Callable[[], Desk], writes: RunWrites) -> None:
    desk = now()
    place = int(next(at for at in desk.flagged if np.isnat(desk.frames["captured_at"].to_numpy()[at])))
    alone = {"what": "fine", "body": "", "first": key_of(desk, place), "last": ""}
    assert run_answer(desk, writes, alone, None, None).startswith("Put aside: 1 frame.")
    assert now().aside.tolist() == [place]
    assert "No frame" in run_answer(desk, writes, alone | {"first": "0-nothing"}, None, None)


def test_a_frame_flagged_for_something_new_comes_back(now: Callable[[], Desk], own_workspace: Path) -> None:
    frame = now().frames.iloc[int(now().flagged[0])]
    flags = frozenset(str(frame["flags"]).split("+"))
    put = PutAside(str(frame["archive"]), str(frame["path"]), flags)
    put_aside(open_workspace(own_workspace), [put])
    assert len(now().aside) == 1
    less = PutAside(put.archive, put.path, frozenset(list(flags)[1:]) or frozenset({"unreadable"}))
    put_aside(open_workspace(own_workspace), [less])
    assert len(load_aside(open_workspace(own_workspace))[0]) == 1
    assert len(now().aside) == 0


def test_a_damaged_file_puts_nothing_aside_and_is_not_written_over(now: Callable[[], Desk], writes: RunWrites) -> None:
    file = writes.folder / "aside.csv"
    desk = now()
    press = pressed(desk, int(desk.flagged[0]), "fine")
    for damaged, says in (
        (b"start,lens\n1,2\n", "must name the columns"),
        (b"archive,path,flags\nmain,,x\n", "line 2"),
    ):
        file.write_bytes(damaged)
        assert len(now().aside) == 0
        assert says in run_answer(now(), writes, press, None, None)
        assert file.read_bytes() == damaged


def test_a_full_disk_is_said(now: Callable[[], Desk], writes: RunWrites, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    desk = now()
    run_answer(desk, writes, pressed(desk, int(desk.flagged[0]), "support-braced"), None, None)
    monkeypatch.setattr("auditor.pipeline.putting_aside.write_text", full)
    monkeypatch.setattr("dashboards.undoing.write_bytes", full)
    assert "No space left" in run_answer(desk, writes, pressed(desk, int(desk.flagged[0]), "fine"), None, None)
    assert "No space left" in writes.undo()
