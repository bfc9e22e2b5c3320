"""A new workspace, with a kit started from what the archive's own Exif names."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import pandas as pd

from auditor.errors import WorkspaceError
from auditor.model.found_kit import FoundBody, FoundLens, kit_text
from auditor.model.log import LOG_COLUMNS
from auditor.model.workspace import KIT_FILE, LOG_FILE, SETTINGS_FILE
from auditor.pipeline.auditing import to_frame
from auditor.pipeline.indexing import Progress, index_archives
from auditor.storage.atomic import write_text
from auditor.storage.datasets import read_table

__all__ = ["Started", "archive_names", "begin_workspace", "found_in", "start_workspace"]


@dataclass(frozen=True)
class Started:
    """What a new workspace was given."""

    frames: int
    bodies: int
    lenses: int


def start_workspace(folder: Path, archive_folders: list[Path], *, progress: Progress | None = None) -> Started:
    """
    Make a workspace: settings and an empty log, the archive read once, a kit started from what was read.

    Raises
    ------
    WorkspaceError
        A folder does not exist, is a workspace already, or lies inside an archive.
    """
    archives = archive_names(archive_folders)
    begin_workspace(folder, archives)
    try:
        index_archives(archives, folder / "store", progress=progress)
    finally:
        # Also after Ctrl-C: what was read so far is enough to start a kit from.
        frames = to_frame(read_table(folder / "store", "frames"))
        bodies, lenses = found_in(frames)
        write_text(folder / KIT_FILE, kit_text(bodies, lenses, dt.datetime.now().astimezone().date()))
    return Started(len(frames), len(bodies), len(lenses))


def archive_names(folders: list[Path]) -> dict[str, Path]:
    """
    Give each archive folder a name: ``main`` for the only one, else the folder's own, made unique.

    Raises
    ------
    WorkspaceError
        A folder does not exist, or lies inside another.
    """
    missing = [f"{folder}: there is no such folder" for folder in folders if not folder.is_dir()]
    whole = [folder.resolve() for folder in folders]
    nested = [
        f"{inner} lies inside {outer}, so its frames would count twice; name only {outer}"
        for inner in whole
        for outer in whole
        if outer in inner.parents or (inner == outer and whole.count(inner) > 1)
    ]
    if missing or nested:
        raise WorkspaceError("no workspace was made", [*missing, *dict.fromkeys(nested)])
    if len(folders) == 1:
        return {"main": whole[0]}
    names: dict[str, Path] = {}
    for folder in whole:
        name, number = folder.name or "archive", 2
        while name in names:
            name, number = f"{folder.name}-{number}", number + 1
        names[name] = folder
    return names


def begin_workspace(folder: Path, archives: Mapping[str, Path]) -> None:
    """
    Write settings.toml and an empty log.csv into a new workspace folder.

    Raises
    ------
    WorkspaceError
        The folder is a workspace already, or lies inside an archive, which is never written to.
    """
    whole = folder.resolve()
    inside = [name for name, archive in archives.items() if archive == whole or archive in whole.parents]
    if inside:
        raise WorkspaceError(
            f"{folder}: lies inside the archive {archives[inside[0]]}, which is never written to",
            ["choose a folder outside it, such as ~/steadykeep"],
        )
    taken = [name for name in (KIT_FILE, LOG_FILE, SETTINGS_FILE) if (folder / name).exists()]
    if taken:
        raise WorkspaceError(
            f"{folder}: is a workspace already, it has {', '.join(taken)}; nothing was changed",
            ["to add an archive, add a line to [archives] in its settings.toml"],
        )
    folder.mkdir(parents=True, exist_ok=True)
    template = resources.files("auditor.model").joinpath("templates", "settings.toml").read_text(encoding="utf-8")
    lines = "\n".join(f"{_key(name)} = {_quoted(str(archive))}" for name, archive in archives.items())
    write_text(folder / SETTINGS_FILE, template.replace("# ARCHIVES #", lines))
    write_text(folder / LOG_FILE, ",".join(LOG_COLUMNS) + "\n")


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _key(name: str) -> str:
    return name if name.isascii() and name.replace("-", "").replace("_", "").isalnum() else _quoted(name)


def found_in(frames: pd.DataFrame) -> tuple[list[FoundBody], list[FoundLens]]:
    """
    Gather the bodies and lenses that Exif names, most used first.

    A lens is taken to have contacts where the frames that name it also tell an aperture: a lens without contacts
    has none to tell.
    """
    named = frames.dropna(subset=["model"])
    bodies = [_body(rows) for _, rows in named.groupby(["make", "model"], dropna=False, observed=True)]
    lenses = [_lens(rows) for _, rows in frames.dropna(subset=["lens_model"]).groupby("lens_model", observed=True)]
    return sorted(bodies, key=lambda body: -body.frames), sorted(lenses, key=lambda lens: -lens.frames)


def _body(rows: pd.DataFrame) -> FoundBody:
    make = rows["make"].dropna()
    crop = (rows["focal_length_35mm_mm"] / rows["focal_length_mm"]).dropna()
    return FoundBody(
        make=str(make.iloc[0]) if len(make) else None,
        model=str(rows["model"].iloc[0]),
        frames=len(rows),
        crop=float(crop.median()) if len(crop) else None,
        typed=_typed(rows),
    )


def _typed(rows: pd.DataFrame) -> tuple[tuple[float, int], ...]:
    """Focal lengths of frames that tell neither lens nor aperture, with their frames, most first."""
    untold = rows["lens_model"].isna() & rows["f_number"].isna()
    counts = rows.loc[untold, "focal_length_mm"].dropna().round(1).value_counts().sort_index()
    counts = counts.sort_values(ascending=False, kind="stable")
    return tuple(zip(counts.index.astype(float), counts.tolist(), strict=True))


def _lens(rows: pd.DataFrame) -> FoundLens:
    told = rows[["lens_min_focal_mm", "lens_max_focal_mm"]].dropna()
    focal, widest = rows["focal_length_mm"].dropna(), rows["max_aperture_f_number"].dropna()
    ends: tuple[float, float] | None = None
    if len(told):
        low, high = told.iloc[0].tolist()
        ends = (float(low), float(high))
    elif len(focal):
        ends = (float(focal.min()), float(focal.max()))
    return FoundLens(
        name=str(rows["lens_model"].iloc[0]),
        frames=len(rows),
        focal_mm=ends,
        focal_is_told=bool(len(told)),
        contacts=bool(rows["f_number"].notna().any()),
        widest=round(float(widest.min()), 1) if len(widest) else None,
        bodies=tuple(sorted(rows["model"].dropna().unique())),
    )
