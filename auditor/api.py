"""
The program for a notebook: open a workspace, get tables, ask the physics.

>>> import tempfile
>>> import auditor
>>> folder = tempfile.TemporaryDirectory()
>>> workspace = auditor.sample_workspace(folder.name + "/sample")

A workspace holds the photographer's files as values:

>>> workspace.kit.lens("orla-50").name
'Orla 50 mm f/1.4'

Tables are pandas DataFrames. One row a frame: what was recorded, what the audit found, or both beside each other.

>>> frames = auditor.read_frames(workspace)
>>> bool((frames["exposure_time_s"].dropna() > 0).all())
True
>>> joined = auditor.read_joined(workspace)
>>> len(joined) == len(frames)
True
>>> wrong = joined[joined["setting_verdict"].isin(["too-short", "too-long"])]
>>> bool(wrong["stops_lost"].median() > 1)
True

Keep rates with their intervals; what was left out of the counting, and why, is in ``attrs``:

>>> rates = auditor.ledger(workspace, by="lens").set_index("id")
>>> bool(rates.loc["orla-50", "low"] < rates.loc["orla-50", "keep_rate"] < rates.loc["orla-50", "high"])
True
>>> sorted(auditor.ledger(workspace).attrs)
['left_out']

What a column means, with its unit, is a table as well:

>>> auditor.describe(joined).set_index("column").loc["stops_lost", "meaning"]
'What the wrong setting cost'

The physics takes numbers or arrays:

>>> auditor.right_setting_mm(50.0, 0.25)
62.5
>>> folder.cleanup()
"""

from __future__ import annotations

import os
from pathlib import Path

import pandas as pd

from auditor.corrections.data_dictionary import data_dictionary
from auditor.model import workspace as workspaces
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import audit_workspace, read_frames, to_frame
from auditor.pipeline.demo import lay_out_sample
from auditor.pipeline.exporting import frames_with_measures
from auditor.pipeline.indexing import IndexSummary, index_archives
from auditor.pipeline.ledgers import ledger_of
from auditor.storage.datasets import read_table

__all__ = [
    "audit_workspace",
    "describe",
    "index_workspace",
    "ledger",
    "open_workspace",
    "read_audit",
    "read_frames",
    "read_joined",
    "read_measures",
    "read_overlaps",
    "sample_workspace",
]


def open_workspace(folder: str | os.PathLike[str]) -> Workspace:
    """
    Open a workspace that ``steadykeep init`` made.

    Parameters
    ----------
    folder : str or path
        A leading ``~`` is the home folder.

    Returns
    -------
    Workspace
        With ``kit``, ``log`` and ``settings``; it is read once, so open it again after a change.

    Raises
    ------
    InputError
        The folder is not a workspace, or one of its files is wrong, with every problem at once.
    """
    return workspaces.open_workspace(Path(folder).expanduser())


def sample_workspace(folder: str | os.PathLike[str]) -> Workspace:
    """
    Lay out the sample library in a new folder, index and audit it, and open it.

    Parameters
    ----------
    folder : str or path
        New, empty, or made by an earlier call.

    Raises
    ------
    WorkspaceError
        The folder holds something else.
    """
    opened = open_workspace(lay_out_sample(Path(folder).expanduser()))
    index_workspace(opened)
    audit_workspace(opened)
    return opened


def index_workspace(workspace: Workspace, *, jobs: int = 1) -> IndexSummary:
    """
    Read what is new or changed in the archives; they are only read.

    Parameters
    ----------
    workspace : Workspace
    jobs : int
        Processes that read.

    Raises
    ------
    StoreError
        Another process writes the store.
    """
    return index_archives(workspace.archive_places, workspace.store, jobs=jobs)


def read_audit(workspace: Workspace) -> pd.DataFrame:
    """Return what the last audit found, one row a frame; empty before the first."""
    return to_frame(read_table(workspace.store, "audit"))


def read_measures(workspace: Workspace) -> pd.DataFrame:
    """Return what the pixels say, one row a measured frame; empty before anything was measured."""
    return to_frame(read_table(workspace.store, "measures"))


def read_overlaps(workspace: Workspace) -> pd.DataFrame:
    """Return the tried pairs of frames with the ratio of their focal lengths."""
    return to_frame(read_table(workspace.store, "overlaps"))


def read_joined(workspace: Workspace) -> pd.DataFrame:
    """
    Return frames, audit and measures side by side, one row a frame.

    Where the frames were made is among the columns, to about a kilometre (``latitude_deg``, ``longitude_deg``): drop
    them from what you hand on.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    """
    return frames_with_measures(workspace)


def ledger(workspace: Workspace, by: str = "lens") -> pd.DataFrame:
    """
    Return keep rates with their intervals, and beside them how many frames are sharp, where they were measured.

    Parameters
    ----------
    workspace : Workspace
    by : str
        What each row is: lens, pairing, body, trip, focal and more (``auditor.audit.ledger.GROUPINGS``).

    Returns
    -------
    DataFrame
        The columns of ``auditor.audit.ledger.Ledger.rows``, such as ``kept`` of ``judged`` and ``sharp`` of
        ``sharp_judged``; ``attrs["left_out"]`` counts the frames in no keep rate.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    """
    found = ledger_of(workspace, by)
    rows = found.rows.copy()
    rows.attrs["left_out"] = found.left_out
    return rows


def describe(rows: pd.DataFrame) -> pd.DataFrame:
    """Return name, kind, unit and meaning of each column of a table with one row a frame."""
    return data_dictionary(rows)
