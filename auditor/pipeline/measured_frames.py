"""Which frames are to be measured, where their files lie, and what the audit knows of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from auditor.errors import InputError
from auditor.model.tables import KEY
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import to_frame
from auditor.pipeline.looking import PixelFile
from auditor.storage.datasets import OutdatedStore, read_table

__all__ = ["FRAME_COLUMNS", "asked_frames", "pixel_files", "with_audit"]

FRAME_COLUMNS = (
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
    "offset_minutes",
    "image_width_px",
    "image_height_px",
)
_AUDIT_COLUMNS = ("archive", "path", "lens", "adapter", "pairing_confidence")


def asked_frames(workspace: Workspace, frames: pd.DataFrame, only: Sequence[str]) -> NDArray[np.bool_]:
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
            problems.append(f'"{path}" is no indexed frame; give its path inside the archive, such as {inside.iloc[0]}')
        named |= here.to_numpy(bool)
    if problems:
        raise InputError(f"{len(problems)} of {len(only)} paths are not in the index, nothing was measured", problems)
    return named


def _inside(path: Path, folder: Path) -> str:
    absolute = path.absolute()
    return absolute.relative_to(folder.absolute()).as_posix() if absolute.is_relative_to(folder.absolute()) else ""


def pixel_files(workspace: Workspace, frames: pd.DataFrame) -> list[PixelFile]:
    """Return the files of frames whose archive settings.toml still names, in the same order."""
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


def with_audit(workspace: Workspace, frames: pd.DataFrame) -> pd.DataFrame:
    """Return frames with lens, adapter and confidence of the last audit, where there was one."""
    try:
        audit = to_frame(read_table(workspace.store, "audit", _AUDIT_COLUMNS))
    except OutdatedStore:
        return frames
    if audit.empty:
        return frames
    return frames.merge(audit, on=list(KEY), how="left", validate="one_to_one")
