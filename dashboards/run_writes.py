"""What a press on a frame's page changes for the whole run that it is in, each of which can be taken back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from auditor.errors import SteadykeepError
from auditor.model.answers import Answer
from auditor.model.aside import PutAside
from auditor.model.workspace import Workspace, open_workspace
from auditor.pipeline.putting_aside import flag_again, put_aside
from auditor.pipeline.questioning import answer_span
from auditor.pipeline.supporting import Run, note_support
from dashboards.desk import Desk, Places
from dashboards.undoing import Undoable
from dashboards.words import count_of

__all__ = ["RunWrites", "frames_of_run", "put_aside_rows", "run_of"]

_LATER = "It counts from the next audit."


@dataclass(frozen=True, eq=False)
class RunWrites:
    """
    Changes to answers.csv, log.csv and aside.csv of a workspace. Each method says what came of it.

    Parameters
    ----------
    folder : Path
        The workspace.
    files : Undoable
        Over the three files.
    """

    folder: Path
    files: Undoable

    def _done(self, name: str, change: Callable[[Workspace], str]) -> str:
        said: list[str] = []
        try:
            self.files.do(name, lambda: said.append(change(open_workspace(self.folder))))
        except SteadykeepError as error:
            return str(error)
        except OSError as error:
            return f"It cannot be written ({error.strerror}); nothing was changed."
        return said[0]

    def confirm(self, answer: Answer) -> str:
        """Record what was on the camera."""

        def change(workspace: Workspace) -> str:
            recorded, frames = answer_span(workspace, answer)
            return f"Recorded for {count_of(frames, 'frame')}: {recorded.words}. {_LATER}"

        return self._done(f"{answer.words}, {answer.first:%Y-%m-%d %H:%M} to {answer.last:%H:%M}", change)

    def support(self, run: Run, support: str) -> str:
        """Note in the log what the camera rested on."""

        def change(workspace: Workspace) -> str:
            count = note_support(workspace, run, support)
            if not count:
                return f"That was noted already: {support}."
            return f"Noted in the log for {count_of(count, 'frame')}: {support}. {_LATER}"

        return self._done(f"{support}, from {run.first:%Y-%m-%d %H:%M}", change)

    def fine(self, frames: list[PutAside]) -> str:
        """Put flagged frames aside."""
        if not frames:
            return "No frame of this run is flagged any more."

        def change(workspace: Workspace) -> str:
            put_aside(workspace, frames)
            return f"Put aside: {count_of(len(frames), 'frame')}. Flagged for something else later, each comes back."

        return self._done(f"{count_of(len(frames), 'frame')} put aside", change)

    def again(self, frames: list[PutAside]) -> str:
        """Flag frames again that were put aside."""

        def change(workspace: Workspace) -> str:
            count = flag_again(workspace, {(frame.archive, frame.path) for frame in frames})
            return f"Worth a look again: {count_of(count, 'frame')}."

        return self._done(f"{count_of(len(frames), 'frame')} worth a look again", change)

    def undo(self) -> str:
        """Take the last change back."""
        try:
            return self.files.undo()
        except OSError as error:
            return f"It cannot be written ({error.strerror}); nothing was changed."


def frames_of_run(desk: Desk, body: str, first: dt.datetime, last: dt.datetime) -> Places:
    """Return the places of a body's frames between two times, both included, in order of time."""
    bodies = desk.frames["body"].cat
    if body not in bodies.categories:
        return desk.in_order[:0]
    own = bodies.codes.to_numpy()[desk.in_order] == bodies.categories.get_loc(body)
    taken = desk.frames["captured_at"].to_numpy()[desk.in_order]
    within = own & (taken >= np.datetime64(first)) & (taken <= np.datetime64(last))
    return np.asarray(desk.in_order[within])


def run_of(desk: Desk, body: str, first: dt.datetime, last: dt.datetime) -> Run:
    """Return a run with the times of all frames of its body."""
    shot_at = desk.frames["captured_at"][(desk.frames["body"] == body).to_numpy()].to_numpy()
    return Run(body, first, last, shot_at)


def put_aside_rows(desk: Desk, places: Places) -> list[PutAside]:
    """Return the flagged frames of some places, as they are put aside."""
    frames = desk.frames.iloc[places][["archive", "path", "flags"]]
    return [
        PutAside(str(frame["archive"]), str(frame["path"]), frozenset(str(frame["flags"]).split("+")))
        for _, frame in frames.iterrows()
        if pd.notna(frame["flags"])
    ]
