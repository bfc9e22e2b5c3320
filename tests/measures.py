"""Measures made up for the frames of a workspace, where a test asks what is done with them and not how they came."""

from __future__ import annotations

import pandas as pd
import pyarrow as pa

from auditor.model.tables import KEY, MEASURES
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import joined_table
from auditor.storage.datasets import replace_table

__all__ = ["made_up_measures", "write_measures"]

_KINDS = ("sharp", "sharp", "sharp", "shake", "sharp", "missed-focus", "unknown", "sharp", "subject-moved", None)


def made_up_measures(workspace: Workspace) -> pd.DataFrame:
    """Return a kind of blur for nine frames in ten, in turn over the frames in reversed order."""
    frames = joined_table(workspace)[list(KEY)].iloc[::-1].reset_index(drop=True)
    kinds = [_KINDS[number % len(_KINDS)] for number in range(len(frames))]
    return frames.assign(blur_kind=kinds).dropna(subset="blur_kind").reset_index(drop=True)


def write_measures(workspace: Workspace, measures: pd.DataFrame | None = None) -> pd.DataFrame:
    """Put measures into a workspace's store, in the order given, and return them."""
    rows = made_up_measures(workspace) if measures is None else measures
    table = pa.Table.from_pylist(rows.to_dict("records"), schema=MEASURES)
    replace_table(workspace.store, "measures", table)
    return rows
