"""Note in the shoot log what the camera rested on for a run of frames, without losing what else its rows say."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.evidence import NO_ROW, log_rows_in_force
from auditor.errors import LogError
from auditor.model.kit import Kit
from auditor.model.log import SUPPORTS
from auditor.model.log_text import Noted, noted_rows, with_row_mended, with_rows
from auditor.model.workspace import Workspace
from auditor.pipeline.shoot_log import change_log

__all__ = ["Run", "note_support", "with_support"]

Times = npt.NDArray[np.datetime64]


@dataclass(frozen=True, eq=False)
class Run:
    """
    Frames of one body in a row.

    Parameters
    ----------
    body : str
        Kit id.
    first, last : datetime
        Of the run, both included, local time after clock corrections.
    shot_at : array of datetime64, shape (frames,)
        Times of all frames of the body, so that a row of the log that holds for others too is cut and not changed.
    """

    body: str
    first: dt.datetime
    last: dt.datetime
    shot_at: Times


def note_support(workspace: Workspace, run: Run, support: str) -> int:
    """
    Write into a workspace's log.csv what the camera rested on for a run of frames.

    Returns
    -------
    int
        Frames for which that was not noted yet; with none, the file is not changed.

    Raises
    ------
    LogError
        The log cannot be read or written; it is not changed.
    """
    counted = [0]

    def changed(text: str) -> str:
        after, counted[0] = with_support(text, run, support, workspace.kit)
        return after

    change_log(workspace, changed)
    return counted[0]


def with_support(text: str, run: Run, support: str, kit: Kit) -> tuple[str, int]:
    """
    Return the text of a log that notes a support for a run of frames, and for how many it was not noted yet.

    A row that holds for frames of the run alone is given the support. One that holds for others too is cut: a copy of
    it with the support, naming no lens, begins at the run, and another with what it said of the support behind the
    run. Where no row holds, one is added.

    Raises
    ------
    LogError
        The support is none of ``SUPPORTS``, or the log cannot be read.
    """
    if support not in SUPPORTS:
        raise LogError(f'support = "{support}" is none of {", ".join(SUPPORTS)}, nothing was written')
    noted = [one for one in noted_rows(text, kit) if one.row is not None and one.row.body == run.body]
    noted.sort(key=lambda one: (one.row.start, one.line))  # type: ignore[union-attr]
    at = np.sort(run.shot_at[~np.isnat(run.shot_at)]).astype("datetime64[us]")
    frames = pd.DataFrame({"body": run.body, "at": at})
    holds = log_rows_in_force(frames, [one.row for one in noted if one.row])
    inside = (at >= np.datetime64(run.first, "us")) & (at <= np.datetime64(run.last, "us"))
    mended: list[tuple[str, dict[str, str]]] = []
    added: list[dict[str, str]] = []
    count = 0
    for place in np.unique(holds[inside]):
        mine = holds == place
        if place == NO_ROW:
            added += [_bare(run.body, at[group], support) for group in _in_a_row(np.flatnonzero(mine & inside))]
            count += int((mine & inside).sum())
        elif noted[place].cells.get("support", "").lower() != support:
            own, more = _cut(noted[place], at[mine], inside[mine], support)
            mended += own
            added += more
            count += int((mine & inside).sum())
    for key, values in mended:
        text, _ = with_row_mended(text, key, values, kit)
    return (with_rows(text, added, kit)[0] if added else text), count


def _cut(
    row: Noted, at: Times, inside: npt.NDArray[np.bool_], support: str
) -> tuple[list[tuple[str, dict[str, str]]], list[dict[str, str]]]:
    """Return what becomes of a row that holds for these frames, some of them inside the run: mended, and added."""
    # A copy names no lens: the audit takes a row that names one for a sign that the lens was changed there.
    copy = {name: cell for name, cell in row.cells.items() if name not in {"lens", "adapter"}}
    first, last = np.flatnonzero(inside)[[0, -1]]
    added = [copy | {"start": _moment(at[last + 1])}] if last + 1 < len(at) else []
    if first == 0:
        return [(row.key, dict(row.cells) | {"support": support})], added
    return [], [copy | {"start": _moment(at[first]), "support": support}, *added]


def _in_a_row(places: npt.NDArray[np.int64]) -> list[npt.NDArray[np.int64]]:
    return np.split(places, np.flatnonzero(np.diff(places) != 1) + 1)


def _bare(body: str, at: Times, support: str) -> dict[str, str]:
    end = pd.Timestamp(at[-1]).ceil("s")
    end += pd.Timedelta(seconds=1 if end.second == 0 else 0)  # a time to the minute would mean the whole minute
    return {"start": _moment(at[0]), "end": f"{end:%Y-%m-%d %H:%M:%S}", "body": body, "support": support}


def _moment(when: np.datetime64) -> str:
    return f"{pd.Timestamp(when).floor('s'):%Y-%m-%d %H:%M:%S}"
