"""Whether each condensed frame is sharp: one byte a frame, kept beside the condensed audit."""

from __future__ import annotations

import hashlib

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from auditor.audit.sharp_frames import sharp_codes
from auditor.errors import StoreError
from auditor.model.tables import KEY
from auditor.model.workspace import Workspace
from auditor.pipeline.condensing import CONDENSED_FOLDER, condensed_stamp, read_condensed
from auditor.storage.datasets import load_manifest, read_table
from auditor.storage.places import place_at

__all__ = ["sharp_column", "store_sharp_column"]

Codes = npt.NDArray[np.int8]

_FILE = "sharp.arrow"
_STAMP = b"made_from"


def sharp_column(workspace: Workspace) -> Codes | None:
    """
    Return `auditor.audit.sharp_frames.sharp_codes` of the condensed frames, in their order.

    It depends on what was measured as well as on the audit, and so it is kept in a file of its own: a run of
    ``measure`` need not condense the audit anew.

    Parameters
    ----------
    workspace : Workspace

    Returns
    -------
    int8 array, shape (frames,), or None
        None where nothing was measured, or the store has no condensed audit of its tables.
    """
    if not load_manifest(place_at(workspace.store).within("measures")).parts:
        return None
    stored = _stored(workspace)
    if stored is not None:
        return stored
    condensed = read_condensed(workspace, ["frame"])
    return None if condensed is None else store_sharp_column(workspace, _made(workspace)[condensed["frame"]])


def store_sharp_column(workspace: Workspace, sharp: Codes) -> Codes:
    """
    Keep the column beside the condensed audit, and return it.

    Raises
    ------
    StoreError
        It cannot be written; what was stored is untouched.
    """
    schema = pa.schema([pa.field("sharp", pa.int8())], metadata={_STAMP: _stamp(workspace)})
    table = pa.Table.from_arrays([pa.array(sharp)], schema=schema)
    place = place_at(workspace.store).within(CONDENSED_FOLDER)

    def fill(stream: object) -> None:
        with pa.ipc.new_file(stream, schema) as writer:
            writer.write_table(table)

    try:
        place.write(_FILE, fill)
    except OSError as failed:
        raise StoreError(f"{place} cannot be written, what was stored is untouched: {failed}") from failed
    return sharp


def _stored(workspace: Workspace) -> Codes | None:
    try:
        with pa.OSFile(str(workspace.store / CONDENSED_FOLDER / _FILE), "rb") as stream:
            reader = pa.ipc.open_file(stream)
            if (reader.schema.metadata or {}).get(_STAMP) != _stamp(workspace):
                return None
            return np.asarray(reader.read_all()["sharp"].to_numpy(), np.int8)
    except (OSError, pa.ArrowInvalid):
        return None


def _made(workspace: Workspace) -> Codes:
    """Look all frames up among the measured ones."""
    frames = read_table(workspace.store, "frames", list(KEY))
    measures = read_table(workspace.store, "measures", [*KEY, "blur_kind"])
    order = frames.append_column("row", pa.array(np.arange(frames.num_rows)))
    beside = order.join(measures, keys=list(KEY), join_type="left outer").sort_by("row")
    return sharp_codes(beside["blur_kind"].to_pandas(strings_to_categorical=True))


def _stamp(workspace: Workspace) -> bytes:
    """Return a mark of what the column was made from."""
    measures = load_manifest(place_at(workspace.store).within("measures"))
    parts = [part.file for part in measures.parts]
    dropped = [str(np.sum(part.dropped)) for part in measures.parts]
    text = "\n".join([condensed_stamp(workspace).decode(), *parts, *dropped])
    return hashlib.sha256(text.encode()).hexdigest().encode()
