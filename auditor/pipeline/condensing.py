"""The condensed audit in the store: written once an audit, read a few columns at a time."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import numpy as np
import pandas as pd
import pyarrow as pa

from auditor.audit.condensed import CONDENSED, condense
from auditor.audit.evidence import add_evidence
from auditor.errors import StoreError
from auditor.model.workspace import Workspace
from auditor.storage.datasets import load_manifest
from auditor.storage.places import place_at

__all__ = [
    "CONDENSED_FOLDER",
    "condensed_stamp",
    "read_condensed",
    "store_condensed",
    "with_log",
    "write_condensed",
]

CONDENSED_FOLDER = "condensed"
"""Folder of the store that holds it."""

_FILE = "frames.arrow"
_FORM = "2"
_STAMP = b"made_from"


def write_condensed(workspace: Workspace, audited: pd.DataFrame) -> pd.DataFrame:
    """
    Condense an audit and keep it beside the tables it was made from.

    Parameters
    ----------
    workspace : Workspace
        Whose ``frames`` and ``audit`` are already in the store.
    audited : DataFrame
        All that the audit's steps made.

    Returns
    -------
    DataFrame
        As written.
    """
    condensed = condense(audited, workspace.kit, workspace.settings)
    store_condensed(workspace, condensed)
    return condensed


def store_condensed(workspace: Workspace, condensed: pd.DataFrame) -> None:
    """
    Keep a condensed audit beside the tables it was made from.

    Raises
    ------
    StoreError
        It cannot be written; what was stored is untouched.
    """
    table = pa.Table.from_pandas(condensed, preserve_index=False).replace_schema_metadata(
        {_STAMP: condensed_stamp(workspace)}
    )
    place = place_at(workspace.store).within(CONDENSED_FOLDER)

    def fill(stream: object) -> None:
        with pa.ipc.new_file(stream, table.schema) as writer:
            writer.write_table(table)

    try:
        place.write(_FILE, fill)
    except OSError as failed:
        raise StoreError(f"{place} cannot be written, what was stored is untouched: {failed}") from failed


def read_condensed(workspace: Workspace, columns: Sequence[str] | None = None) -> pd.DataFrame | None:
    """
    Read columns of the condensed audit; None where there is none, or it is not of the tables now in the store.

    Uncompressed and column by column, so that five million frames take a fraction of a second.
    """
    names = list(CONDENSED)
    wanted = [names.index(column) for column in (columns or names)]
    try:
        # Arrow's own file: no Python object for its threads to hold, no mapping that keeps it from being replaced.
        with pa.OSFile(str(workspace.store / CONDENSED_FOLDER / _FILE), "rb") as stream:
            options = pa.ipc.IpcReadOptions(included_fields=sorted(wanted), use_threads=True)
            reader = pa.ipc.open_file(stream, options=options)
            if (reader.schema.metadata or {}).get(_STAMP) != condensed_stamp(workspace):
                return None
            table = reader.read_all()
    except (OSError, pa.ArrowInvalid):
        return None
    frames: pd.DataFrame = table.to_pandas(split_blocks=True)
    return frames


def with_log(joined: pd.DataFrame, workspace: Workspace) -> pd.DataFrame:
    """Add to frames and audit, read from the store, what only the log knows, and whether the stabiliser was on."""
    known = add_evidence(joined, workspace.kit, workspace.log.rows, workspace.settings)
    off = (joined["residual"] == 1.0) & joined["stops_lost"].isna()
    return known.assign(is_stabilised=~off.to_numpy(bool))


def condensed_stamp(workspace: Workspace) -> bytes:
    """Return a mark of what the condensed table was made from."""
    store = place_at(workspace.store)
    parts = [part.file for name in ("frames", "audit") for part in load_manifest(store.within(name)).parts]
    dropped = [
        str(np.sum(part.dropped)) for name in ("frames", "audit") for part in load_manifest(store.within(name)).parts
    ]
    text = "\n".join([_FORM, *CONDENSED, *parts, *dropped, f"{workspace.settings.plan.burst_pause_s}"])
    return hashlib.sha256(text.encode()).hexdigest().encode()
