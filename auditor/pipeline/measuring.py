"""Measure the pixels of indexed frames, once each, and set them beside their neighbours."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import pandas as pd
import pyarrow as pa
from numpy.typing import NDArray

from auditor.audit.scenes import Crispness, add_scene, add_sharpness_in_scene, pairs_across_changes
from auditor.errors import InputError
from auditor.model.looks import LOOKS, METHOD
from auditor.model.tables import KEY, MEASURES, OVERLAPS
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import read_frames, to_frame
from auditor.pipeline.looking import OverlapTask, PixelFile, look_at, overlaps_of, work_through
from auditor.readers.pixels import need_pixel_libraries
from auditor.storage.datasets import (
    Manifest,
    OutdatedStore,
    commit,
    load_manifest,
    read,
    read_table,
    replace,
    replace_table,
    write_part,
)
from auditor.storage.lock import locked
from auditor.storage.places import Place, place_at

__all__ = ["MeasureSummary", "Progress", "measure_pair", "measure_workspace"]

Progress: TypeAlias = Callable[[int, int], None]
"""Told how many files are done and of how many."""

_COMMIT_ROWS, _COMMIT_S, _MOST_PARTS = 256, 20.0, 12
_PAIRS_A_TASK = 12
_USUAL_FOCAL_OVER_LONG_SIDE = 1.2
_FRAME_COLUMNS = (
    "archive",
    "path",
    "size",
    "mtime_ns",
    "format",
    "model",
    "body_serial_number",
    "lens_model",
    "f_number",
    "focal_length_mm",
    "focal_length_35mm_mm",
    "photographic_sensitivity",
    "captured_at",
    "image_width_px",
    "image_height_px",
)
_AUDIT_COLUMNS = ("archive", "path", "lens", "adapter", "pairing_confidence")


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
    frames = read_frames(workspace, _FRAME_COLUMNS)
    asked = _asked(workspace, frames, only)
    place = place_at(workspace.store)
    told = progress or (lambda done, total: None)
    with locked(place):
        looks = _Looks(place)
        to_do = [file for file in _files(workspace, frames[asked]) if not looks.holds(file)]
        try:
            _decode(to_do, looks, jobs, cluster, told)
        finally:
            measures = _write_measures(workspace, frames, looks)
        pairs = _write_overlaps(workspace, frames, asked, {(file.archive, file.path) for file in to_do}, jobs, cluster)
    return _summary(frames[asked], measures, looks, to_do, pairs, time.monotonic() - started_s)


def measure_pair(workspace: Workspace, first: str, second: str) -> dict[str, Any]:
    """
    Compare the focal lengths of two indexed frames, and keep the answer in ``store/overlaps``.

    Returns
    -------
    dict
        The pair's row of the overlaps table; the ratio is that of the second frame over the first.

    Raises
    ------
    InputError
        A path names no indexed frame, or several, or the frames are of two archives.
    """
    need_pixel_libraries()
    frames = read_frames(workspace, _FRAME_COLUMNS)
    places = []
    for path in (first, second):
        rows = np.flatnonzero(_asked(workspace, frames, [path]))
        if rows.size > 1:
            raise InputError(
                f'"{path}" names {rows.size} frames, nothing was compared', ["begin it with the archive's name: main/…"]
            )
        places.append(int(rows[0]))
    if frames["archive"].iat[places[0]] != frames["archive"].iat[places[1]]:
        raise InputError("the two frames are of different archives, nothing was compared")
    with locked(place_at(workspace.store)):
        row = overlaps_of(OverlapTask(tuple(_pairs(workspace, frames, [(places[0], places[1])]))))[0]
        _keep_overlaps(workspace, [row])
    return row


def _asked(workspace: Workspace, frames: pd.DataFrame, only: Sequence[str]) -> NDArray[np.bool_]:
    """Return which frames some paths name; every problem at once."""
    if not only:
        return np.ones(len(frames), bool)
    inside = frames["path"].astype(str)
    with_archive = frames["archive"].astype(str) + "/" + inside
    named, problems = np.zeros(len(frames), bool), []
    for path in only:
        here = (inside == path) | (with_archive == path)
        for archive, folder in workspace.archives.items():
            here |= (frames["archive"] == archive) & (inside == _inside(Path(path), folder))
        if not here.any():
            problems.append(f'"{path}" is no indexed frame; give its path inside the archive, such as {inside.iat[0]}')
        named |= here.to_numpy(bool)
    if problems:
        raise InputError(f"{len(problems)} of {len(only)} paths are not in the index, nothing was measured", problems)
    return named


def _inside(path: Path, folder: Path) -> str:
    absolute = path.absolute()
    return absolute.relative_to(folder.absolute()).as_posix() if absolute.is_relative_to(folder.absolute()) else ""


def _files(workspace: Workspace, frames: pd.DataFrame) -> list[PixelFile]:
    archives = workspace.archives
    width, height = (frames[name].fillna(0).astype("int64") for name in ("image_width_px", "image_height_px"))
    return [
        PixelFile(archive, path, str(archives[archive] / path), kind, int(size), int(mtime_ns), int(pixels))
        for archive, path, kind, size, mtime_ns, pixels in zip(
            frames["archive"],
            frames["path"],
            frames["format"].fillna(""),
            frames["size"],
            frames["mtime_ns"],
            width * height,
            strict=True,
        )
        if archive in archives
    ]


class _Looks:
    """The private table of what was measured: what it holds, and a way to add to it that survives an interruption."""

    def __init__(self, store: Place) -> None:
        self._place = store.within("looks")
        try:
            self._manifest = load_manifest(self._place)
            table = read(self._place, LOOKS)
        except OutdatedStore:
            self._manifest, table = Manifest(), LOOKS.empty_table()
        self.rows: dict[tuple[str, str], dict[str, Any]] = {
            (row["archive"], row["path"]): row for row in table.to_pylist()
        }
        self._waiting: list[dict[str, Any]] = []
        self._since_s = time.monotonic()

    def holds(self, file: PixelFile) -> bool:
        """Tell whether a file was measured as it is now."""
        row = self.rows.get((file.archive, file.path))
        return row is not None and (row["size"], row["mtime_ns"], row["method"]) == (file.size, file.mtime_ns, METHOD)

    def add(self, row: dict[str, Any]) -> None:
        """Keep a row; committed every few hundred rows or every few seconds."""
        self.rows[row["archive"], row["path"]] = row
        self._waiting.append(row)
        if len(self._waiting) >= _COMMIT_ROWS or time.monotonic() - self._since_s > _COMMIT_S:
            self.flush()

    def flush(self) -> None:
        """Commit what is waiting; of two rows of one frame the later counts."""
        self._since_s = time.monotonic()
        if not self._waiting:
            return
        if len(self._manifest.parts) >= _MOST_PARTS:
            replace(self._place, pa.Table.from_pylist(list(self.rows.values()), schema=LOOKS), LOOKS)
            self._manifest = load_manifest(self._place)
        else:
            part = write_part(self._place, pa.Table.from_pylist(self._waiting, schema=LOOKS), LOOKS)
            self._manifest = Manifest((*self._manifest.parts, part))
            commit(self._place, self._manifest)
        self._waiting = []


def _decode(to_do: list[PixelFile], looks: _Looks, jobs: int | None, cluster: str | None, progress: Progress) -> None:
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


def _write_measures(workspace: Workspace, frames: pd.DataFrame, looks: _Looks) -> pd.DataFrame:
    """Set what was measured beside the neighbours, and replace store/measures."""
    keys = zip(frames["archive"], frames["path"], strict=True)
    rows = [looks.rows.get(key) for key in keys]
    there = np.array([row is not None for row in rows], bool)
    known = _with_audit(workspace, frames[there]).reset_index(drop=True)
    table = pa.Table.from_pylist([row for row in rows if row is not None], schema=LOOKS)
    found = to_frame(table.drop_columns(list(KEY)))
    beside = add_scene(known, [_small(row) for row in rows if row is not None])
    beside = add_sharpness_in_scene(beside, Crispness(found["raw_edges"].to_numpy(), found["raw_gradients"].to_numpy()))
    measured = [name for name in MEASURES.names if name in found.columns]
    whole = pd.concat([beside[[*KEY, "scene", "sharpness_in_scene"]], found[measured]], axis=1)
    replace_table(workspace.store, "measures", _table(whole, MEASURES))
    return whole


def _table(rows: pd.DataFrame, schema: pa.Schema) -> pa.Table:
    return pa.Table.from_pandas(rows[schema.names], schema=schema, preserve_index=False)


def _small(row: dict[str, Any]) -> NDArray[np.uint8] | None:
    content, width = row.get("small_picture"), row.get("small_width_px")
    return np.frombuffer(content, np.uint8).reshape(-1, width) if content and width else None


def _with_audit(workspace: Workspace, frames: pd.DataFrame) -> pd.DataFrame:
    """Return frames with lens, adapter and confidence of the last audit, where there was one."""
    try:
        audit = to_frame(read_table(workspace.store, "audit", _AUDIT_COLUMNS))
    except OutdatedStore:
        return frames
    if audit.empty:
        return frames
    return frames.merge(audit, on=list(KEY), how="left", validate="one_to_one")


def _pairs(
    workspace: Workspace, frames: pd.DataFrame, pairs: Sequence[tuple[int, int]]
) -> Iterator[tuple[PixelFile, PixelFile, float]]:
    for first, second in pairs:
        files = _files(workspace, frames.iloc[[first, second]])
        if len(files) == 2:
            yield files[0], files[1], _focal_over_long_side(workspace, frames.iloc[first])


def _focal_over_long_side(workspace: Workspace, frame: pd.Series) -> float:
    """Return a guess from what is recorded; a normal lens where nothing is."""
    if pd.notna(frame["focal_length_35mm_mm"]):
        return float(frame["focal_length_35mm_mm"]) / 36.0
    model = str(frame["model"]).lower()
    for body in workspace.kit.bodies:
        if body.exif_model.lower() == model and body.sensor_mm and pd.notna(frame["focal_length_mm"]):
            return float(frame["focal_length_mm"]) / max(body.sensor_mm)
    return _USUAL_FOCAL_OVER_LONG_SIDE


def _write_overlaps(
    workspace: Workspace,
    frames: pd.DataFrame,
    asked: NDArray[np.bool_],
    decoded: set[tuple[str, str]],
    jobs: int | None,
    cluster: str | None,
) -> int:
    """Try the pairs that can matter and are not known yet; return how many rows concern the frames asked for."""
    known = _with_audit(workspace, frames)
    wanted = [(a, b) for a, b in pairs_across_changes(known) if asked[a] and asked[b] and _in_one_archive(frames, a, b)]
    stored = {
        (row["archive"], row["path_a"], row["path_b"])
        for row in read_table(workspace.store, "overlaps").to_pylist()
        if not {(row["archive"], row["path_a"]), (row["archive"], row["path_b"])} & decoded
    }
    new = [pair for pair in wanted if _overlap_key(frames, *pair) not in stored]
    tasks = [
        OverlapTask(tuple(_pairs(workspace, frames, new[start : start + _PAIRS_A_TASK])))
        for start in range(0, len(new), _PAIRS_A_TASK)
    ]
    done: list[dict[str, Any]] = []
    try:
        for rows in work_through(overlaps_of, tasks, _failed_pairs, jobs=jobs, cluster=cluster):
            done.extend(rows)
    finally:
        _keep_overlaps(workspace, done)
    return len(wanted)


def _in_one_archive(frames: pd.DataFrame, first: int, second: int) -> bool:
    return bool(frames["archive"].iat[first] == frames["archive"].iat[second])


def _overlap_key(frames: pd.DataFrame, first: int, second: int) -> tuple[str, str, str]:
    return frames["archive"].iat[first], frames["path"].iat[first], frames["path"].iat[second]


def _failed_pairs(task: OverlapTask, why: str) -> list[dict[str, Any]]:
    return [
        {
            "archive": first.archive,
            "path_a": first.path,
            "path_b": second.path,
            "overlap_verdict": "unknown",
            "problem": why,
        }
        for first, second, _ in task.pairs
    ]


def _keep_overlaps(workspace: Workspace, rows: list[dict[str, Any]]) -> None:
    """Put rows into store/overlaps in place of older ones of the same pairs; pairs of frames that are gone are dropped."""
    try:
        before = read_table(workspace.store, "overlaps").to_pylist()
    except OutdatedStore:
        before = []
    by_pair = {(row["archive"], row["path_a"], row["path_b"]): row for row in (*before, *rows)}
    ordered = [by_pair[key] for key in sorted(by_pair)]
    replace_table(workspace.store, "overlaps", pa.Table.from_pylist(ordered, schema=OVERLAPS))


def _summary(
    asked: pd.DataFrame,
    measures: pd.DataFrame,
    looks: _Looks,
    to_do: list[PixelFile],
    pairs: int,
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
        pairs=pairs,
        looked_twice=sum(bool(looks.rows[file.archive, file.path].get("looked_twice")) for file in to_do),
        by_kind={str(kind): int(count) for kind, count in kinds.items()},
        seconds=seconds,
    )
