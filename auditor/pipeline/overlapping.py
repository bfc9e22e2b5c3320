"""Compare the focal lengths of pairs of frames that can matter, and keep the answers in ``store/overlaps``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pyarrow as pa
from numpy.typing import NDArray

from auditor.audit.scenes import pairs_across_changes
from auditor.errors import InputError
from auditor.model.tables import OVERLAPS
from auditor.model.tried import COMPARING, PAIR_KEY, TRIED
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import read_frames
from auditor.pipeline.looking import OverlapTask, PixelFile, overlaps_of, work_through
from auditor.pipeline.measured_frames import FRAME_COLUMNS, asked_frames, pixel_files, with_audit
from auditor.readers.pixels import need_pixel_libraries
from auditor.storage.datasets import OutdatedStore, read, read_table, replace, replace_table
from auditor.storage.lock import locked
from auditor.storage.places import place_at

__all__ = ["PairCount", "measure_pair", "write_overlaps"]

PairKey = tuple[str, str, str]
Moments = dict[tuple[str, str], int]


class PairCount(NamedTuple):
    """How many pairs matter among the frames asked for, and how many another comparing had tried before."""

    pairs: int
    anew: int


_PAIRS_A_TASK = 12
_USUAL_FOCAL_OVER_LONG_SIDE = 1.2


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
    frames = read_frames(workspace, FRAME_COLUMNS)
    places = []
    for path in (first, second):
        rows = np.flatnonzero(asked_frames(workspace, frames, [path]))
        if rows.size > 1:
            raise InputError(
                f'"{path}" names {rows.size} frames, nothing was compared', ["begin it with the archive's name: main/…"]
            )
        places.append(int(rows[0]))
    if frames["archive"].iloc[places[0]] != frames["archive"].iloc[places[1]]:
        raise InputError("the two frames are of different archives, nothing was compared")
    with locked(place_at(workspace.store)):
        row = overlaps_of(OverlapTask(tuple(_pairs(workspace, frames, [(places[0], places[1])]))))[0]
        moments = _moments(frames)
        _keep_overlaps(workspace, (_stored(workspace), [row]), _tried(workspace, moments), moments)
    return row


def _pairs(
    workspace: Workspace, frames: pd.DataFrame, pairs: Sequence[tuple[int, int]]
) -> Iterator[tuple[PixelFile, PixelFile, float]]:
    for first, second in pairs:
        files = pixel_files(workspace, frames.iloc[[first, second]])
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


def write_overlaps(
    workspace: Workspace,
    frames: pd.DataFrame,
    asked: NDArray[np.bool_],
    jobs: int | None,
    cluster: str | None,
) -> PairCount:
    """
    Try the pairs that can matter and are not known yet.

    A pair that another version of the comparing tried, or of which a file has changed since, is tried anew; only the
    frames of such pairs are read for it.

    Parameters
    ----------
    workspace : Workspace
    frames : DataFrame
        All indexed frames.
    asked : array of bool, shape (n,)
        Which of them are asked for and can be decoded.
    jobs, cluster
        As for measuring.

    Returns
    -------
    PairCount
    """
    moments = _moments(frames)
    frames = frames[asked].reset_index(drop=True)
    known = with_audit(workspace, frames)
    wanted = [pair for pair in pairs_across_changes(known) if _in_one_archive(frames, *pair)]
    kept = [row for row in _stored(workspace) if moments.keys() >= _both(row)]
    stored = {_pair_of(row) for row in kept}
    tried = _tried(workspace, moments) & stored
    new = [pair for pair in wanted if _overlap_key(frames, *pair) not in tried]
    tasks = [
        OverlapTask(tuple(_pairs(workspace, frames, new[start : start + _PAIRS_A_TASK])))
        for start in range(0, len(new), _PAIRS_A_TASK)
    ]
    done: list[dict[str, Any]] = []
    try:
        for rows in work_through(overlaps_of, tasks, _failed_pairs, jobs=jobs, cluster=cluster):
            done.extend(rows)
    finally:
        _keep_overlaps(workspace, (kept, done), tried, moments)
    return PairCount(len(wanted), sum(_overlap_key(frames, *pair) in stored for pair in new))


def _in_one_archive(frames: pd.DataFrame, first: int, second: int) -> bool:
    return bool(frames["archive"].iloc[first] == frames["archive"].iloc[second])


def _overlap_key(frames: pd.DataFrame, first: int, second: int) -> PairKey:
    return frames["archive"].iloc[first], frames["path"].iloc[first], frames["path"].iloc[second]


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


def _stored(workspace: Workspace) -> list[dict[str, Any]]:
    try:
        return list(read_table(workspace.store, "overlaps").to_pylist())
    except OutdatedStore:
        return []


def _moments(frames: pd.DataFrame) -> Moments:
    return dict(zip(zip(frames["archive"], frames["path"], strict=True), frames["mtime_ns"].tolist(), strict=True))


def _tried(workspace: Workspace, moments: Moments) -> set[PairKey]:
    """Return the pairs that this version of the comparing tried, with their files as they are now."""
    try:
        rows = read(place_at(workspace.store).within("tried"), TRIED).to_pylist()
    except OutdatedStore:
        return set()
    return {
        _pair_of(row)
        for row in rows
        if row["comparing"] == COMPARING and (row["mtime_ns_a"], row["mtime_ns_b"]) == _times_of(_pair_of(row), moments)
    }


def _times_of(pair: PairKey, moments: Moments) -> tuple[int | None, int | None]:
    archive, first, second = pair
    return moments.get((archive, first)), moments.get((archive, second))


def _pair_of(row: dict[str, Any]) -> PairKey:
    return row["archive"], row["path_a"], row["path_b"]


def _both(row: dict[str, Any]) -> set[tuple[str, str]]:
    return {(row["archive"], row["path_a"]), (row["archive"], row["path_b"])}


def _keep_overlaps(
    workspace: Workspace, rows: tuple[list[dict[str, Any]], list[dict[str, Any]]], tried: set[PairKey], moments: Moments
) -> None:
    """
    Replace store/overlaps by what was there before and new rows, which take the place of older ones of a pair.

    When the files of a pair were last changed is kept with it, so that an interruption between measuring a changed file
    and comparing its pairs leaves no old answer. Which pairs this version tried is written after them: a kill in
    between costs a second try, never an old answer.
    """
    before, new = rows
    by_pair = {_pair_of(row): row for row in (*before, *new)}
    ordered = [by_pair[key] for key in sorted(by_pair)]
    replace_table(workspace.store, "overlaps", pa.Table.from_pylist(ordered, schema=OVERLAPS))
    known = sorted((tried | {_pair_of(row) for row in new}) & by_pair.keys())
    columns = (*PAIR_KEY, "mtime_ns_a", "mtime_ns_b")
    notes = [
        {"comparing": COMPARING, **dict(zip(columns, (*key, *_times_of(key, moments)), strict=True))} for key in known
    ]
    replace(place_at(workspace.store).within("tried"), pa.Table.from_pylist(notes, schema=TRIED), TRIED)
