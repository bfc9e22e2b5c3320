"""Measure the pixels of indexed frames, once each, and set them beside their neighbours."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import pandas as pd
import pyarrow as pa

from auditor.audit.scenes import Crispness, add_scene, add_sharpness_in_scene
from auditor.model.looks import LOOKS, METHOD
from auditor.model.subjects import SUBJECTS
from auditor.model.tables import KEY, MEASURES
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import read_frames, to_frame
from auditor.pipeline.looking import PixelFile, look_at, work_through
from auditor.pipeline.looks_store import PrivateTable, holds, readable
from auditor.pipeline.measured_frames import FRAME_COLUMNS, asked_frames, pixel_files, with_audit
from auditor.pipeline.overlapping import PairCount, write_overlaps
from auditor.pipeline.sharp_column import sharp_column
from auditor.pipeline.subjects import Means, compare_siblings, small_picture_of, with_subjects
from auditor.readers.pixels import need_pixel_libraries
from auditor.storage.datasets import replace_table
from auditor.storage.lock import locked
from auditor.storage.places import place_at

__all__ = ["MeasureSummary", "Progress", "measure_workspace"]

Progress: TypeAlias = Callable[[int, int], None]
"""Told how many files are done and of how many."""


@dataclass(frozen=True)
class MeasureSummary:
    """
    What a run found and did.

    Attributes
    ----------
    frames : int
        Frames asked for.
    decoded : int
        Of these, the ones that were new or changed and decoded in this run.
    measured : int
        Of these, the ones with an edge width.
    unknown : int
        Of these, the ones whose kind of blur cannot be told.
    unreadable : int
        Of these, the ones that could not be decoded.
    pairs : int
        Rows of the overlaps table that concern these frames.
    pairs_anew : int
        Of these, the ones compared again since the comparing has changed.
    compared : int
        Frames set beside a sibling in this run, to see whether a subject moved.
    looked_twice : int
        Frames decoded in this run that needed the full size.
    by_kind : dict
        Frames by kind of blur.
    seconds : float
        [s]
    """

    frames: int
    decoded: int
    measured: int
    unknown: int
    unreadable: int
    pairs: int
    pairs_anew: int
    compared: int
    looked_twice: int
    by_kind: dict[str, int]
    seconds: float


def measure_workspace(
    workspace: Workspace,
    *,
    only: Sequence[str] = (),
    jobs: int | None = None,
    cluster: str | None = None,
    progress: Progress | None = None,
) -> MeasureSummary:
    """
    Measure the frames that are new or changed, and write ``store/measures`` and ``store/overlaps``.

    Parameters
    ----------
    workspace : Workspace
    only : sequence of str
        Paths, inside an archive or of files; all frames when empty.
    jobs : int, optional
        Processes; as many as there are processors.
    cluster : str, optional
        Address of a Dask scheduler whose workers see the archives under the same names.
    progress : callable, optional
        See `Progress`.

    Returns
    -------
    MeasureSummary

    Raises
    ------
    WorkspaceError
        Nothing was indexed yet.
    InputError
        A path names no indexed frame.
    MissingExtra
        OpenCV, or for a cluster Dask, is not installed.
    KeyboardInterrupt
        Interrupted; what was decoded is kept, and store/measures tells of it.
    """
    need_pixel_libraries()
    started_s = time.monotonic()
    frames = read_frames(workspace, FRAME_COLUMNS)
    asked = asked_frames(workspace, frames, only)
    place = place_at(workspace.store)
    told = progress or (lambda done, total: None)
    with locked(place):
        looks, subjects = PrivateTable(place, LOOKS), PrivateTable(place, SUBJECTS)
        to_do = [file for file in pixel_files(workspace, frames[asked]) if not holds(looks, file)]
        compared = 0
        try:
            _decode(to_do, looks, jobs, cluster, told)
            further = Means(jobs, cluster, lambda done, total: told(len(to_do) + done, len(to_do) + total))
            compared = _compare(workspace, frames[asked], looks, subjects, further)
        finally:
            measures = _write_measures(workspace, frames, looks, subjects)
        pairs = write_overlaps(workspace, frames, asked & readable(looks, frames), jobs, cluster)
        sharp_column(workspace)  # so that the next ledger need not look the frames up
    return _summary(frames[asked], measures, looks, to_do, (pairs, compared), time.monotonic() - started_s)


def _compare(
    workspace: Workspace, asked: pd.DataFrame, looks: PrivateTable, subjects: PrivateTable, means: Means
) -> int:
    frames = asked[asked["archive"].isin(list(workspace.archives))].reset_index(drop=True)
    known = with_audit(workspace, frames).reset_index(drop=True)
    return compare_siblings(pixel_files(workspace, frames), known, looks, subjects, means)


def _decode(
    to_do: list[PixelFile], looks: PrivateTable, jobs: int | None, cluster: str | None, progress: Progress
) -> None:
    progress(0, len(to_do))
    try:
        for done, row in enumerate(work_through(look_at, to_do, _failed, jobs=jobs, cluster=cluster), start=1):
            looks.add(row)
            progress(done, len(to_do))
    finally:
        looks.flush()


def _failed(file: PixelFile, why: str) -> dict[str, Any]:
    return {
        "archive": file.archive,
        "path": file.path,
        "size": file.size,
        "mtime_ns": file.mtime_ns,
        "method": METHOD,
        "blur_kind": "unknown",
        "problem": why,
    }


def _write_measures(
    workspace: Workspace, frames: pd.DataFrame, looks: PrivateTable, subjects: PrivateTable
) -> pd.DataFrame:
    """Set what was measured beside the neighbours, and replace store/measures."""
    keys = zip(frames["archive"], frames["path"], strict=True)
    rows = [looks.rows.get(key) for key in keys]
    there = np.array([row is not None for row in rows], bool)
    known = with_audit(workspace, frames[there]).reset_index(drop=True)
    table = pa.Table.from_pylist([with_subjects(row, subjects) for row in rows if row is not None], schema=LOOKS)
    found = to_frame(table.drop_columns(list(KEY)))
    beside = add_scene(known, [small_picture_of(row) for row in rows if row is not None])
    beside = add_sharpness_in_scene(beside, Crispness(found["raw_edges"].to_numpy(), found["raw_gradients"].to_numpy()))
    measured = [name for name in MEASURES.names if name in found.columns]
    whole = pd.concat([beside[[*KEY, "scene", "sharpness_in_scene"]], found[measured]], axis=1)
    replace_table(workspace.store, "measures", _table(whole, MEASURES))
    return whole


def _table(rows: pd.DataFrame, schema: pa.Schema) -> pa.Table:
    return pa.Table.from_pandas(rows[schema.names], schema=schema, preserve_index=False)


def _summary(
    asked: pd.DataFrame,
    measures: pd.DataFrame,
    looks: PrivateTable,
    to_do: list[PixelFile],
    counts: tuple[PairCount, int],
    seconds: float,
) -> MeasureSummary:
    here = measures.merge(asked[list(KEY)], on=list(KEY), how="inner", validate="one_to_one")
    kinds = here["blur_kind"].value_counts()
    return MeasureSummary(
        frames=len(asked),
        decoded=len(to_do),
        measured=int(here["edge_width_px"].notna().sum()),
        unknown=int((here["blur_kind"] == "unknown").sum()),
        unreadable=int(here["problem"].notna().sum()),
        pairs=counts[0].pairs,
        pairs_anew=counts[0].anew,
        compared=counts[1],
        looked_twice=sum(bool(looks.rows[file.archive, file.path].get("looked_twice")) for file in to_do),
        by_kind={str(kind): int(count) for kind, count in kinds.items()},
        seconds=seconds,
    )
