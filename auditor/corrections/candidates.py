"""Which frames' records can be put right, which cannot and why, and the runs they fall into."""

from __future__ import annotations

import numpy as np
import pandas as pd

from auditor.errors import KitError
from auditor.model.kit import Kit
from auditor.model.pairings import Pairing, pairing_of

__all__ = ["add_candidates", "runs_of"]

_SAME_IN_A_RUN = ["trip", "body", "lens", "adapter", "logged_focal_mm", "logged_aperture"]


def add_candidates(frames: pd.DataFrame, kit: Kit, confidence_at_least: float) -> pd.DataFrame:
    """
    Add why a frame's record is left alone, and the run of like frames that it belongs to.

    Parameters
    ----------
    frames : DataFrame
        The joined table with ``at``, ``logged_focal_mm`` and ``logged_aperture`` of the log.
    kit : Kit
    confidence_at_least : float
        Surer pairings than this are recorded, and those that were confirmed.

    Returns
    -------
    DataFrame
        Same rows, same order, with ``left_because`` (missing where the record can be put right) and ``run``: frames of
        one body that follow each other with the same lens, adapter, zoom position and aperture share its number.
    """
    evidence = frames["pairing_evidence"].fillna("")
    is_confirmed = evidence.str.contains("confirmed", regex=False)
    fits = _fitting(frames, kit)
    reasons = (
        (frames["format"].isna(), "the file could not be read"),
        (frames["lens"].isna() | frames["adapter"].isna(), "the lens is not known"),
        (~fits, "the kit has changed since the audit; run audit again"),
        (
            evidence.str.contains("contacts", regex=False) & ~is_confirmed,
            "the lens told the body itself",
        ),
        (
            ~(frames["pairing_confidence"] >= confidence_at_least) & ~is_confirmed,
            f"less sure than {confidence_at_least:g}",
        ),
    )
    is_left = [is_so.fillna(False).to_numpy(dtype=bool) for is_so, _ in reasons]
    left = np.select(is_left, [reason for _, reason in reasons], default="")
    because = pd.Series(left, index=frames.index, dtype="str")
    return frames.assign(left_because=because.mask(because == ""), run=_runs(frames))


def _fitting(frames: pd.DataFrame, kit: Kit) -> pd.Series:
    """Tell whether each named pairing is one of the kit's."""
    ids = ["body", "lens", "adapter"]
    known = frames[ids].drop_duplicates().dropna()
    known = known.assign(fits=[_pairing(kit, *row) is not None for row in known.itertuples(index=False, name=None)])
    return frames[ids].merge(known, on=ids, how="left", validate="many_to_one")["fits"].set_axis(frames.index).eq(True)


def _pairing(kit: Kit, body: str, lens: str, adapter: str) -> Pairing | None:
    try:
        return pairing_of(kit, body, lens, adapter)
    except KitError:
        return None


def _runs(frames: pd.DataFrame) -> pd.Series:
    by_time = frames.sort_values(["body", "at", "path"], kind="stable", na_position="last")
    same = pd.Series(True, index=by_time.index)
    for column in _SAME_IN_A_RUN:
        here, before = by_time[column], by_time[column].shift()
        same &= ((here == before).fillna(False).astype(bool)) | (here.isna() & before.isna())
    return (~same).cumsum().reindex(frames.index)


def runs_of(frames: pd.DataFrame, outcomes: pd.DataFrame) -> pd.DataFrame:
    """
    Lay what would be done out per run of frames, in order of time.

    Parameters
    ----------
    frames : DataFrame
        As ``add_candidates`` returns it.
    outcomes : DataFrame
        ``run`` and one column of counts for each outcome.

    Returns
    -------
    DataFrame
        ``first, last, body, lens, adapter, focal_mm, aperture, recorded, confidence, evidence`` and the counts;
        ``recorded`` is the lens and focal length that the camera wrote, ``confidence`` the least of the run.
    """
    mine = frames[frames["run"].isin(outcomes["run"]) & frames["left_because"].isna()]
    said = mine.assign(recorded=_recorded(mine)).groupby("run", sort=False)
    table = said.agg(
        first=("at", "min"),
        last=("at", "max"),
        body=("body", "first"),
        lens=("lens", "first"),
        adapter=("adapter", "first"),
        focal_mm=("logged_focal_mm", "first"),
        aperture=("logged_aperture", "first"),
        recorded=("recorded", _commonest),
        confidence=("pairing_confidence", "min"),
        evidence=("pairing_evidence", _commonest),
    )
    whole = table.reset_index().merge(outcomes, on="run", how="inner", validate="one_to_one")
    return whole.sort_values(["first", "body"], kind="stable").drop(columns="run").reset_index(drop=True)


def _recorded(frames: pd.DataFrame) -> pd.Series:
    focal = frames["focal_length_mm"].map(lambda value: f"{value:g} mm", na_action="ignore").astype("str")
    name = frames["lens_model"]
    return name.str.cat(focal, sep=", ").fillna(name).fillna(focal).fillna("nothing")


def _commonest(values: pd.Series) -> object:
    counts = values.value_counts()
    return counts.index[0] if len(counts) else None
