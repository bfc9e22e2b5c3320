"""
Put the record right: which XMP sidecars would say what, and writing and undoing them.

Archives are read, never written, but for one thing: with ``beside`` the .xmp files beside the frames, new or changed.
Otherwise sidecars go to a mirror of the archive in the workspace, begun from what lies beside the frame.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import pandas as pd

from auditor.audit.evidence import add_evidence
from auditor.corrections.candidates import add_candidates
from auditor.corrections.journal import Entry, Spot, digest_of
from auditor.corrections.lens_record import NOTHING, Laid, Record, lay_over, record_of
from auditor.corrections.packet import UnfitPacket
from auditor.corrections.properties import F_NUMBER, FOCAL_LENGTH, FOCAL_LENGTH_35MM, LENS, LENS_MODEL, Property
from auditor.corrections.sidecar_names import Names, sidecar_names
from auditor.corrections.statements import statements
from auditor.errors import WorkspaceError
from auditor.model.pairings import pairing_of
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import joined_table
from auditor.pipeline.sidecar_files import MIRROR, list_folder, read_sidecar, sidecar_at
from auditor.pipeline.sidecar_journal import read_journal
from auditor.readers.names import as_name, as_text

__all__ = ["Change", "Plan", "Progress", "plan_sidecars"]

Progress = Callable[[int, int], None]
"""Told how many frames are done, of how many."""

_NEEDED = [
    "archive", "path", "companion", "format", "at", "trip", "body", "lens", "adapter", "pairing_confidence",
    "pairing_evidence", "logged_focal_mm", "logged_aperture", "focal_length_mm", "focal_length_35mm_mm", "f_number",
    "lens_model",
]  # fmt: skip


class Change(NamedTuple):
    """
    What one sidecar comes to.

    Attributes
    ----------
    spot : Spot
        Where it lies.
    run : int
        Run of frames; -1 for a frame whose record is left alone.
    before, after : bytes or None
        What it holds and what it should hold; None for no file.
    left : tuple of str
        Properties that another program says otherwise.
    problem : str or None
        Why it is left as it is.
    """

    spot: Spot
    run: int
    before: bytes | None = None
    after: bytes | None = None
    left: tuple[str, ...] = ()
    problem: str | None = None

    @property
    def outcome(self) -> str:
        """One of new, changed, taken-back, as-it-is, problem."""
        if self.problem:
            return "problem"
        if self.before == self.after:
            return "as-it-is"
        if self.run < 0:
            return "taken-back"
        return "new" if self.before is None else "changed"


@dataclass(frozen=True)
class Plan:
    """
    Everything needed to say what each sidecar should hold.

    Attributes
    ----------
    workspace : Workspace
    frames : DataFrame
        The joined table with ``left_because`` and ``run``.
    beside : bool
        Sidecars go beside the frames instead of into the mirror.
    entries : mapping
        The journal.
    records : dict
        Records made so far: frames of one run share theirs.
    fresh : dict
        Sidecars that hold one of these records and nothing else, by its identity: most are like that.
    """

    workspace: Workspace
    frames: pd.DataFrame
    beside: bool
    entries: Mapping[Spot, Sequence[Entry]] = field(repr=False)
    records: dict[tuple[Any, ...], Record] = field(default_factory=dict, repr=False)
    fresh: dict[int, Laid] = field(default_factory=dict, repr=False)

    def changes(self, progress: Progress | None = None) -> Iterator[Change]:
        """Yield what every sidecar comes to, folder by folder; nothing is written."""
        done = 0
        folder = self.frames["path"].str.rpartition("/")[0]
        for (archive, inside), frames in self.frames.groupby(["archive", folder], sort=True):
            yield from _changes_in(self, str(archive), str(inside), frames)
            done += len(frames)
            if progress:
                progress(done, len(self.frames))

    @property
    def left_out(self) -> dict[str, int]:
        """Frames whose record is left alone, by reason."""
        return {str(reason): int(count) for reason, count in self.frames["left_because"].value_counts().items()}


def plan_sidecars(workspace: Workspace, *, beside: bool = False) -> Plan:
    """
    Find the frames whose record can be put right.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet, an archive is not there, or the mirror would lie inside an archive.
    StoreError
        The journal is damaged.
    """
    rows = joined_table(workspace)
    problems = [] if beside else _mirror_inside(workspace)
    for name in rows["archive"].unique():
        folder = workspace.archives.get(name)
        if folder is None or not folder.is_dir():
            problems.append(f"archive {name}: {folder or 'not in settings.toml any more'} is not there as a folder")
    if problems:
        raise WorkspaceError("no sidecar was touched", problems)
    logged = add_evidence(rows, workspace.kit, workspace.log.rows, workspace.settings)
    rows = rows.assign(**{name: logged[name] for name in ("at", "logged_focal_mm", "logged_aperture")})[_NEEDED]
    found = add_candidates(rows, workspace.kit, workspace.settings.sidecar.confidence_at_least)
    return Plan(workspace, found, beside, read_journal(workspace))


def _mirror_inside(workspace: Workspace) -> list[str]:
    mirror = (workspace.folder / MIRROR).resolve()
    return [
        f"{mirror} lies inside the archive {folder}, which is never written to"
        for folder in workspace.archives.values()
        if folder.resolve() in mirror.parents
    ]


def _changes_in(plan: Plan, archive: str, inside: str, frames: pd.DataFrame) -> Iterator[Change]:
    """Yield what the sidecars of one folder come to."""
    lead = f"{inside}/" if inside else ""
    paths = [str(path) for path in frames["path"]]
    try:
        listing = list_folder(plan.workspace.archives[archive] / as_name(inside))
    except OSError as reason:
        yield Change(Spot("beside", archive, inside), -1, problem=f"the folder cannot be read ({reason.strerror})")
        return
    own = [Names(as_name(path[len(lead) :]), _companion(held, lead)) for path, held in
           zip(paths, frames["companion"], strict=True)]  # fmt: skip
    naming = plan.workspace.settings.sidecar.naming
    sidecars = sidecar_names(own, listing.sidecars, naming)
    for names, targets, row in zip(own, sidecars, frames.to_dict("records"), strict=True):
        if names.name not in listing.names:
            if pd.isna(row["left_because"]):
                yield Change(Spot("beside", archive, str(row["path"])), -1, problem="the frame is not there any more")
            continue
        for target in targets:
            spot = Spot("beside" if plan.beside else "mirror", archive, f"{lead}{as_text(target)}")
            change = _change(plan, spot, row, is_there=target in listing.sidecars)
            if change is not None:
                yield change


def _companion(path: object, lead: str) -> str | None:
    return as_name(path[len(lead) :]) if isinstance(path, str) else None


def _change(plan: Plan, spot: Spot, row: Mapping[Any, Any], *, is_there: bool) -> Change | None:
    """Return what one sidecar comes to, None where there is nothing to say and nothing was said."""
    is_left = isinstance(row["left_because"], str)
    run = -1 if is_left else int(row["run"])
    try:
        now, base = _contents(plan, spot, is_there=is_there)
        if is_left and (now is None or b"urn:steadykeep:record:" not in now):
            return None
        laid = lay_over(base, NOTHING, _recorded(row)) if is_left else _laid(plan, base, row)
    except (UnfitPacket, OSError) as reason:
        if is_left:
            return None  # not ours to say anything about
        return Change(spot, run, problem=getattr(reason, "strerror", None) or str(reason))
    return Change(spot, run, now, _after(plan, spot, now, laid, is_left=is_left), laid.left)


def _laid(plan: Plan, base: bytes | None, row: Mapping[Any, Any]) -> Laid:
    record = _record(plan, row)
    fresh = plan.fresh.get(id(record))
    if fresh is None:
        fresh = plan.fresh[id(record)] = lay_over(None, record, {})
    if base is None or base == fresh.content:
        return fresh
    return lay_over(base, record, _recorded(row))


def _contents(plan: Plan, spot: Spot, *, is_there: bool) -> tuple[bytes | None, bytes | None]:
    """Return what a sidecar holds, and what it is built upon: in the mirror, what lies beside the frame by now."""
    if plan.beside:
        now = read_sidecar(sidecar_at(plan.workspace, spot)) if is_there else None
        return now, now
    now = read_sidecar(sidecar_at(plan.workspace, spot))
    written = plan.entries.get(spot, ())
    if now is not None and not (written and digest_of(now) == written[-1].after):
        return now, now  # another program has worked on it
    beside = Spot("beside", spot.archive, spot.path)
    return now, read_sidecar(sidecar_at(plan.workspace, beside)) if is_there else None


def _after(plan: Plan, spot: Spot, now: bytes | None, laid: Laid, *, is_left: bool) -> bytes | None:
    """Take a sidecar away whole where we made it and it has nothing to say without us."""
    written = plan.entries.get(spot, ())
    is_ours = bool(written) and digest_of(now) == written[-1].after
    if not is_left or not is_ours or laid.content is None:
        return laid.content
    return (
        None if spot.where == "mirror" or (written[0].before is None and not statements(laid.content)) else laid.content
    )


def _record(plan: Plan, row: Mapping[Any, Any]) -> Record:
    ids = (row["body"], row["lens"], row["adapter"])
    noted = tuple(None if pd.isna(row[name]) else row[name] for name in ("logged_focal_mm", "logged_aperture"))
    key = (*ids, *noted)
    if key not in plan.records:
        focal_mm, aperture = (math.nan if value is None else value for value in noted)
        plan.records[key] = record_of(pairing_of(plan.workspace.kit, *ids), focal_mm, aperture)
    return plan.records[key]


_CAMERA_WROTE: tuple[tuple[Property, str], ...] = (
    (FOCAL_LENGTH, "focal_length_mm"),
    (FOCAL_LENGTH_35MM, "focal_length_35mm_mm"),
    (F_NUMBER, "f_number"),
    (LENS_MODEL, "lens_model"),
    (LENS, "lens_model"),
)


def _recorded(row: Mapping[Any, Any]) -> dict[Property, float | str]:
    return {known: row[column] for known, column in _CAMERA_WROTE if not pd.isna(row[column])}
