"""Trips: what was shot with what, what went wrong, and the after-trip report."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from auditor.audit.blur import add_shake_blur
from auditor.audit.evidence import add_evidence
from auditor.audit.questions import pairing_name
from auditor.audit.right_setting import add_right_setting
from auditor.audit.settings import add_setting_cost, add_setting_verdict
from auditor.audit.times import recorded_order
from auditor.audit.whereabouts import whereabouts_of
from auditor.corrections.trip_report import PairingUse, TripReport, WrongStretch, report_html
from auditor.corrections.trip_timeline import Segment
from auditor.errors import WorkspaceError, nearest
from auditor.model.flags import cause_sentence
from auditor.model.pairings import kit_pairings
from auditor.model.settings import NamedPlace
from auditor.model.whereabouts import PLACE_COLUMNS, Whereabouts, sentence
from auditor.model.workspace import Workspace
from auditor.pipeline.auditing import joined_table
from auditor.storage.atomic import write_text
from auditor.wording import counted

__all__ = ["Trip", "list_trips", "trip_report", "write_trip_report"]

_WRONG = ("too-short", "too-long")

_ADVICE = {
    "carried-over": "After a lens change, look at the setting before the first frame.",
    "adapter-factor-left-out": "Write the focal length times the factor on the reducer, and type that.",
    "equivalent-entered": "Type the lens's own focal length (times the adapter's factor), not its 24×36 mm equivalent.",
    "long-end-of-zoom": "With a zoom, type the position you use; if you turn it often, type the short end.",
    "digit-slip": "Read the number back after typing it.",
}
"""What to do against each cause. Judgement."""

_PAUSE = pd.Timedelta(minutes=45)


@dataclass(frozen=True)
class Trip:
    """
    One trip in the list. ``judged`` counts frames that were judged keepers or not; stops_lost in stops, median.

    ``places`` is where its frames were made, those of most frames first; ``unplaced`` counts frames that do not tell.
    """

    name: str
    first: dt.datetime
    last: dt.datetime
    frames: int
    wrong: int
    mistakes: int
    main_cause: str
    stops_lost: float
    judged: int
    kept: int
    places: tuple[Whereabouts, ...] = ()
    unplaced: int = 0


def list_trips(workspace: Workspace) -> tuple[Trip, ...]:
    """
    Return the trips of a workspace, in order of time.

    Raises
    ------
    WorkspaceError
        Nothing was indexed or audited yet.
    """
    table = _timed(joined_table(workspace))
    groups = [frames for _, frames in table.groupby("trip", observed=True)]
    named = workspace.settings.places
    return tuple(sorted((_trip(frames, named) for frames in groups), key=lambda trip: trip.first))


def _timed(table: pd.DataFrame) -> pd.DataFrame:
    known = table.loc[table["trip"].notna() & table["captured_at"].notna()]
    return known.assign(steady_at=recorded_order(known)).sort_values(["body", "steady_at"], kind="stable")


def _places(frames: pd.DataFrame, named: Sequence[NamedPlace]) -> tuple[Whereabouts, ...]:
    north, east = (frames[column].to_numpy(np.float64) for column in PLACE_COLUMNS)
    return whereabouts_of(np.zeros(len(frames), dtype=np.int64), north, east, named).get(0, ())


def _trip(frames: pd.DataFrame, named: Sequence[NamedPlace]) -> Trip:
    places = _places(frames, named)
    wrong = frames.loc[frames["setting_verdict"].isin(_WRONG)]
    causes = wrong["setting_cause"].value_counts()
    return Trip(
        name=str(frames["trip"].iloc[0]),
        first=frames["captured_at"].min().to_pydatetime(warn=False),
        last=frames["captured_at"].max().to_pydatetime(warn=False),
        frames=len(frames),
        wrong=len(wrong),
        mistakes=int(_runs(frames).loc[wrong.index].nunique()),
        main_cause=str(causes.index[0]) if len(causes) else "",
        stops_lost=float(wrong["stops_lost"].median()),
        judged=int(frames["kept"].notna().sum()),
        kept=int(frames["kept"].eq(True).sum()),
        places=places,
        unplaced=len(frames) - sum(place.frames for place in places),
    )


def _runs(frames: pd.DataFrame) -> pd.Series:
    """Return the number of each run of frames of one body with one pairing, one setting and one verdict."""
    told = frames[["body", "lens", "adapter", "setting_mm", "setting_verdict", "setting_cause"]].astype(object)
    told = told.where(told.notna(), "")
    return (told != told.shift()).any(axis=1).cumsum()


def trip_report(workspace: Workspace, name: str, *, places: bool = False) -> TripReport:
    """
    Return what the after-trip report says.

    Parameters
    ----------
    workspace : Workspace
    name : str
        Of the trip.
    places : bool
        Say where it was. A report is made to be handed on, so it does not unless it was asked to.

    Raises
    ------
    WorkspaceError
        Nothing was audited yet, or there is no trip of that name.
    """
    table = _timed(joined_table(workspace))
    frames = table.loc[table["trip"] == name]
    if frames.empty:
        known = sorted(table["trip"].unique())
        raise WorkspaceError(
            f'there is no trip "{name}"{nearest(name, known)}', [f"the trips are {', '.join(known) or 'none'}"]
        )
    frames = frames.assign(sharp_if_right=_sharp_if_right(workspace, frames), told=_told(workspace, frames))
    stretches = _stretches(workspace, frames)
    bodies = {body.id: body.name for body in workspace.kit.bodies}
    return TripReport(
        name=name,
        first=frames["captured_at"].min().to_pydatetime(warn=False),
        last=frames["captured_at"].max().to_pydatetime(warn=False),
        frames=len(frames),
        unknown=int(frames["lens"].isna().sum()),
        bodies=tuple(bodies.get(body, body) for body in frames["body"].dropna().unique()),
        uses=_uses(frames),
        stretches=stretches,
        segments=_segments(frames, bodies),
        advice=_advice(frames),
        where=_where(frames, workspace.settings.places) if places else "",
    )


def _where(frames: pd.DataFrame, named: Sequence[NamedPlace]) -> str:
    found = _places(frames, named)
    return sentence(found, len(frames) - sum(place.frames for place in found)) if found else ""


def write_trip_report(workspace: Workspace, name: str, path: Path, *, places: bool = False) -> TripReport:
    """
    Write the after-trip report as one HTML file.

    Parameters
    ----------
    workspace, name, places
        As in ``trip_report``.
    path : Path
        The file.

    Raises
    ------
    WorkspaceError
        Nothing was audited yet, there is no such trip, or the file cannot be written.
    """
    report = trip_report(workspace, name, places=places)
    try:
        write_text(path, report_html(report))
    except OSError as reason:
        raise WorkspaceError(f"{path}: cannot be written ({reason.strerror}), nothing was changed") from None
    return report


def _told(workspace: Workspace, frames: pd.DataFrame) -> pd.Series:
    """Name each frame's pairing as the photographer would; empty where it is not known."""
    kit = workspace.kit
    names = {entry.id: entry.name for entry in kit.lenses} | {entry.id: entry.name for entry in kit.adapters}
    plain = {adapter.id for adapter in kit.adapters if adapter.factor == 1 and adapter.extension_mm == (0.0, 0.0)}
    pairs = frames[["lens", "adapter"]].drop_duplicates().itertuples(index=False)
    said = {
        (lens, adapter): pairing_name(lens, "+".join(p for p in str(adapter).split("+") if p not in plain), names)
        for lens, adapter in pairs
        if isinstance(lens, str) and isinstance(adapter, str)
    }
    keys = zip(frames["lens"], frames["adapter"], strict=True)
    return pd.Series([said.get(key, "") for key in keys], index=frames.index, dtype="str")


def _sharp_if_right(workspace: Workspace, frames: pd.DataFrame) -> pd.Series:
    """Chance that each frame would have been free of visible shake with the right setting."""
    kit, settings = workspace.kit, workspace.settings
    evidence = add_evidence(frames, kit, workspace.log.rows, settings)
    pairings = kit_pairings(kit, stacks=frames["adapter"].dropna().unique().tolist())
    right = add_right_setting(evidence, pairings)
    right = right.assign(setting_mm=right["right_setting_mm"])
    shaken = add_shake_blur(add_setting_cost(add_setting_verdict(right, kit, settings), kit, settings), kit, settings)
    return 1 - shaken["blur_probability"]


def _uses(frames: pd.DataFrame) -> tuple[PairingUse, ...]:
    uses = []
    for name, own in frames.loc[frames["told"] != ""].groupby("told", observed=True):
        judged = own["kept"].notna().any()
        wrong = int(own["setting_verdict"].isin(_WRONG).sum())
        uses.append(PairingUse(str(name), len(own), wrong, int(own["kept"].eq(True).sum()) if judged else None))
    return tuple(sorted(uses, key=lambda use: -use.frames))


def _stretches(workspace: Workspace, frames: pd.DataFrame) -> tuple[WrongStretch, ...]:
    bodies = {body.id: body.name for body in workspace.kit.bodies}
    runs = _runs(frames)
    wrong = frames["setting_verdict"].isin(_WRONG)
    found = [_stretch(own, bodies) for _, own in frames.loc[wrong].groupby(runs.loc[wrong])]
    return tuple(sorted(found, key=lambda stretch: stretch.first))


def _stretch(own: pd.DataFrame, bodies: dict[str, str]) -> WrongStretch:
    first = own.iloc[0]
    cause = first["setting_cause"] if isinstance(first["setting_cause"], str) else None
    return WrongStretch(
        body=bodies.get(first["body"], str(first["body"])),
        first=own["captured_at"].iloc[0].to_pydatetime(warn=False),
        last=own["captured_at"].iloc[-1].to_pydatetime(warn=False),
        frames=len(own),
        pairing=str(first["told"]),
        setting_mm=float(first["setting_mm"]),
        right_mm=float(first["right_setting_mm"]),
        cause=cause_sentence(cause) or "why is not known",
        stops_lost=float(own["stops_lost"].median()),
        sharp_as_shot=float((1 - own["blur_probability"]).sum(min_count=1)),
        sharp_if_right=float(own["sharp_if_right"].sum(min_count=1)),
    )


def _segments(frames: pd.DataFrame, bodies: dict[str, str]) -> tuple[Segment, ...]:
    known = frames.loc[frames["body"].notna()]
    wrong = known["setting_verdict"].isin(_WRONG)
    pause = known["captured_at"].diff() > _PAUSE
    begins = (known["body"] != known["body"].shift()) | (known["told"] != known["told"].shift())
    went_back = known["captured_at"].diff() < pd.Timedelta(
        0
    )  # the end of summer time: a band cannot end before it begins
    begins |= (wrong != wrong.shift()) | pause | went_back
    return tuple(
        Segment(
            body=bodies.get(own["body"].iloc[0], str(own["body"].iloc[0])),
            pairing=str(own["told"].iloc[0]),
            first=own["captured_at"].iloc[0].to_pydatetime(warn=False),
            last=own["captured_at"].iloc[-1].to_pydatetime(warn=False),
            frames=len(own),
            wrong=bool(wrong.loc[own.index[0]]),
        )
        for _, own in known.groupby(begins.cumsum())
    )


def _advice(frames: pd.DataFrame) -> tuple[str, ...]:
    wrong = frames.loc[frames["setting_verdict"].isin(_WRONG)]
    lost = (wrong["sharp_if_right"] - (1 - wrong["blur_probability"])).fillna(0.0)
    by_cause = lost.groupby(wrong["setting_cause"]).agg(["sum", "size"]).sort_values("size", ascending=False)
    lines = [
        f"{_ADVICE[str(cause)]} ({counted(int(row['size']), 'frame')}, {_about(row['sum'])})"
        for cause, row in by_cause.iterrows()
        if str(cause) in _ADVICE
    ]
    if frames["pairing_confidence"].lt(0.7).mean() > 0.1:
        lines.append("Note more of your lens changes: for one frame in ten the lens is in doubt.")
    return tuple(lines)


def _about(lost: float) -> str:
    count = round(float(np.maximum(lost, 0.0)))
    return "hardly any sharp frame lost" if count == 0 else f"about {counted(count, 'sharp frame')} lost"
