"""Run the audit's steps over a workspace and keep what they found."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
import pyarrow as pa

from auditor.audit.blur import add_shake_blur
from auditor.audit.causes import add_pairing_before, add_setting_cause
from auditor.audit.evidence import add_evidence
from auditor.audit.flagging import add_flags
from auditor.audit.keepers import add_kept
from auditor.audit.lensless import Lensless, lensless_bodies
from auditor.audit.pairing import possible_pairings
from auditor.audit.questions import NOTHING_TOLD, Told, add_answers
from auditor.audit.right_setting import add_right_setting
from auditor.audit.sequence.pairings import Paired, pair_frames, prefer_likely_cause
from auditor.audit.settings import add_setting_cost, add_setting_verdict
from auditor.audit.trips import add_trip
from auditor.errors import InputError, SettingsError, WorkspaceError
from auditor.model.documents import read_text
from auditor.model.kit import Kit
from auditor.model.log import LogRow
from auditor.model.settings import Habits, Settings
from auditor.model.tables import AUDIT, KEY
from auditor.model.workspace import Workspace
from auditor.pipeline.answering import what_was_told
from auditor.pipeline.condensing import write_condensed
from auditor.pipeline.sharp_column import sharp_column
from auditor.storage.datasets import read_table, replace_table

__all__ = [
    "AuditSummary",
    "audit_frames",
    "audit_workspace",
    "joined_table",
    "read_frames",
    "summarise",
    "to_frame",
]


@dataclass(frozen=True)
class AuditSummary:
    """
    What an audit found, as counts of frames.

    ``stops_lost_median`` is over the frames with a wrong setting, NaN where there are none. [stop]
    ``habits`` is what was learnt of the photographer, from about so many lens ``changes``. ``lensless`` are bodies
    that no lens of the kit fits, with their frames.
    """

    frames: int
    pairing_known: int
    setting_wrong: int
    setting_unknown: int
    blur_likely: int
    stops_lost_median: float
    by_cause: dict[str, int]
    flagged: int
    habits: Habits | None = None
    changes: float = 0.0
    lensless: Mapping[str, Lensless] = field(default_factory=dict)


def read_frames(workspace: Workspace, columns: Sequence[str] | None = None) -> pd.DataFrame:
    """
    Read the indexed frames of a workspace.

    Raises
    ------
    WorkspaceError
        Nothing was indexed yet.
    """
    table = read_table(workspace.store, "frames", columns)
    if table.num_rows == 0:
        raise WorkspaceError(
            f"{workspace.folder}: no frame was indexed yet", [f"run: steadykeep index {workspace.folder}"]
        )
    return to_frame(table)


def to_frame(table: pa.Table) -> pd.DataFrame:
    """
    Turn a table of the store into a DataFrame in which a missing number, text or truth stays missing.

    Examples
    --------
    >>> to_frame(pa.table({"rating": pa.array([1, None], pa.int8())}))["rating"].tolist()
    [1, <NA>]
    """
    frame: pd.DataFrame = table.to_pandas(types_mapper=_PANDAS.get)
    return frame


_PANDAS = {
    pa.string(): pd.StringDtype(na_value=np.nan),
    pa.int8(): pd.Int8Dtype(),
    pa.int16(): pd.Int16Dtype(),
    pa.int32(): pd.Int32Dtype(),
    pa.bool_(): pd.BooleanDtype(),
}


def audit_frames(
    frames: pd.DataFrame,
    kit: Kit,
    log: Sequence[LogRow],
    settings: Settings,
    *,
    listed: Collection[str] = (),
    told: Told = NOTHING_TOLD,
) -> pd.DataFrame:
    """
    Audit frames: trip, pairing, setting, cause, cost, blur, keeper, flags.

    Parameters
    ----------
    frames : DataFrame
        Columns of ``store/frames``.
    kit, log, settings
        The photographer's files.
    listed : collection of str
        Keepers, where the keep rule is a list.
    told : Told
        Answers that outrank everything, and focal ratios measured from the pixels.

    Returns
    -------
    DataFrame
        Same rows, same order, with the columns of ``store/audit`` beside those of the frames.
    """
    return _audited(frames, kit, log, settings, listed, told)[0]


def _audited(
    frames: pd.DataFrame, kit: Kit, log: Sequence[LogRow], settings: Settings, listed: Collection[str], told: Told
) -> tuple[pd.DataFrame, Paired]:
    """Audit frames; also return what the pairing step learnt."""
    pairings = possible_pairings(kit, log, stacks=[answer.adapter for answer in told.answers])
    evidence = add_answers(add_trip(add_evidence(frames, kit, log, settings), settings.trips), told.answers)
    found = pair_frames(evidence, kit, log, settings, overlaps=told.overlaps)
    judged = add_pairing_before(add_setting_verdict(add_right_setting(found.frames, pairings), kit, settings))
    caused = prefer_likely_cause(add_setting_cause(judged, pairings, settings))
    blurred = add_shake_blur(add_setting_cost(caused, kit, settings), kit, settings)
    return add_flags(add_kept(blurred, settings.keep, listed)), found


def audit_workspace(workspace: Workspace) -> AuditSummary:
    """
    Audit a workspace's indexed frames and write ``store/audit``.

    Raises
    ------
    WorkspaceError
        Nothing was indexed yet.
    SettingsError
        The list of keepers that settings.toml names cannot be read.
    """
    frames = read_frames(workspace)
    kit, log, settings = workspace.kit, workspace.log.rows, workspace.settings
    audited, found = _audited(frames, kit, log, settings, _listed(workspace), what_was_told(workspace))
    rows = pa.Table.from_pandas(audited[AUDIT.names], schema=AUDIT, preserve_index=False)
    replace_table(workspace.store, "audit", rows)
    write_condensed(workspace, audited)
    sharp_column(workspace)
    lensless = lensless_bodies(kit, possible_pairings(kit, log), audited)
    return replace(summarise(audited), habits=found.habits, changes=found.changes, lensless=lensless)


def summarise(audited: pd.DataFrame) -> AuditSummary:
    """Count what an audit found."""
    wrong = audited["setting_verdict"].isin(["too-short", "too-long"])
    # Equal counts in order of name, so that the same audit reads the same twice.
    causes = audited.loc[wrong, "setting_cause"].value_counts().sort_index().sort_values(ascending=False, kind="stable")
    return AuditSummary(
        frames=len(audited),
        pairing_known=int((audited["lens"].notna() & audited["adapter"].notna()).sum()),
        setting_wrong=int(wrong.sum()),
        setting_unknown=int((audited["setting_verdict"] == "unknown").sum()),
        blur_likely=int((audited["blur_verdict"] == "likely").sum()),
        stops_lost_median=float(audited.loc[wrong, "stops_lost"].median()),
        by_cause={str(cause): int(count) for cause, count in causes.items()},
        flagged=int((audited["flags"].map(len) > 0).sum()),
    )


def joined_table(workspace: Workspace) -> pd.DataFrame:
    """
    Return frames and audit side by side, one row a frame.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    """
    frames = read_frames(workspace)
    audit = to_frame(read_table(workspace.store, "audit"))
    if audit.empty:
        raise WorkspaceError(
            f"{workspace.folder}: no audit was made yet", [f"run: steadykeep audit {workspace.folder}"]
        )
    # A frame indexed since the last audit keeps its row, with nothing known of it.
    return frames.merge(audit, on=list(KEY), how="left", validate="one_to_one")


def _listed(workspace: Workspace) -> list[str]:
    keep = workspace.settings.keep
    if keep.rule != "list":
        return []
    try:
        return read_text(workspace.folder / keep.list, SettingsError).splitlines()
    except InputError as reason:
        raise SettingsError(
            f"settings.toml: [keep] list = {keep.list!r} cannot be used, nothing was computed", [str(reason)]
        ) from None
