"""A desk that follows its workspace: laid again when the store or one of the user's files has changed."""

from __future__ import annotations

import dataclasses
import threading
from collections.abc import Callable
from pathlib import Path

from auditor.audit.times import corrected_times
from auditor.errors import SteadykeepError
from auditor.model.answers import ANSWERS_FILE
from auditor.model.aside import ASIDE_FILE
from auditor.model.tables import AUDIT, FRAMES, KEY
from auditor.model.workspace import KIT_FILE, LOG_FILE, SETTINGS_FILE, Workspace, open_workspace
from auditor.storage.datasets import read_table
from dashboards.aside import aside_places
from dashboards.asked import answers_of, questions_of
from dashboards.desk import COLUMNS, Desk, desk_of
from dashboards.measured import MEASURED, measures_beside

__all__ = ["workspace_desk"]

_WATCHED = (
    KIT_FILE, LOG_FILE, SETTINGS_FILE, ANSWERS_FILE, ASIDE_FILE,
    *(f"store/{table}/_manifest.json" for table in ("frames", "audit", "measures")), "store/questions.json",
)  # fmt: skip

_READ = (("frames", FRAMES), ("audit", AUDIT))

Stamp = tuple[tuple[int, int] | None, ...]


def workspace_desk(folder: Path) -> Callable[[], Desk]:
    """
    Return what gives the desk of a workspace as it is now.

    Parameters
    ----------
    folder : Path
        The workspace.

    Returns
    -------
    callable
        Each call looks at the time and size of a few files and reads again only after a change. A change
        that cannot be read, such as a kit half edited, leaves the desk as it was and says so on it.

    Raises
    ------
    SteadykeepError
        The workspace cannot be read at all; there is no desk to fall back on.
    """
    lock = threading.Lock()
    held: tuple[Stamp, Desk] = (_stamp(folder), _laid(open_workspace(folder)))

    def now() -> Desk:
        nonlocal held
        with lock:
            stamp = _stamp(folder)
            if stamp != held[0]:
                held = (stamp, _laid_again(folder, held[1]))
            return held[1]

    return now


def _stamp(folder: Path) -> Stamp:
    stamps: list[tuple[int, int] | None] = []
    for name in _WATCHED:
        try:
            status = (folder / name).stat()
        except OSError:
            stamps.append(None)
        else:
            stamps.append((status.st_mtime_ns, status.st_size))
    return tuple(stamps)


def _laid(workspace: Workspace) -> Desk:
    read = {name: [column for column in schema.names if column in COLUMNS or column in KEY] for name, schema in _READ}
    frames = read_table(workspace.store, "frames", read["frames"])
    measures = measures_beside(frames.select(list(KEY)), read_table(workspace.store, "measures", list(MEASURED)))
    both = [frames, read_table(workspace.store, "audit", read["audit"])]
    del frames
    desk = dataclasses.replace(
        desk_of(both.pop(0), both.pop(), workspace.kit),  # popped, so that it can let go of what it has taken over
        workspace=workspace,
        questions=questions_of(workspace),
        answers=answers_of(workspace),
        measures=measures,
    )
    # The log and the answers speak of the time that it was, not of what a wrong clock recorded.
    desk.frames["captured_at"] = corrected_times(desk.frames, workspace.settings.clocks)
    desk = dataclasses.replace(desk, aside=aside_places(desk.frames, workspace))
    _ = desk.flagged, desk.in_order, desk.trips  # sorted now, not while the first page waits
    return desk


def _laid_again(folder: Path, before: Desk) -> Desk:
    try:
        return _laid(open_workspace(folder))
    except SteadykeepError as error:
        return dataclasses.replace(before, notice=f"The pages show what was read before, since {error}")
