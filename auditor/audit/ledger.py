"""The ledger: keep rates per lens, pairing, body, trip and focal band, with what was left out and why."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.stats.intervals import wilson

__all__ = ["FOCAL_BANDS_MM", "GROUPINGS", "Ledger", "keep_rates"]

GROUPINGS = ("lens", "pairing", "body", "trip", "focal")

FOCAL_BANDS_MM = (0, 18, 24, 35, 50, 70, 105, 200, 400, np.inf)
"""Edges of the focal bands: effective focal length, lower end included. [mm]."""


@dataclass(frozen=True)
class Ledger:
    """
    Keep rates of the groups, and the frames that are in none.

    Attributes
    ----------
    rows : DataFrame
        One row a group: ``id, frames, judged, kept, keep_rate, low, high``; most judged first.
    left_out : dict of str to int
        Frames not counted as judged, by reason.
    """

    rows: pd.DataFrame
    left_out: dict[str, int]


def keep_rates(frames: pd.DataFrame, by: str, *, confidence: float = 0.95) -> Ledger:
    """
    Count judged and kept frames by one grouping, with Wilson's interval.

    Parameters
    ----------
    frames : DataFrame
        The audit's columns; for the focal band also ``focal_length_mm``, which a lens with contacts records.
    by : str
        One of ``GROUPINGS``.
    confidence : float
        Of the interval.

    Returns
    -------
    Ledger
        Frames of one burst are counted singly here, so the interval is too narrow where bursts are long.

    Raises
    ------
    ValueError
        The grouping is not one of ``GROUPINGS``.

    Examples
    --------
    >>> audit = pd.DataFrame({"lens": ["orla-50"] * 3, "kept": pd.array([True, False, None], dtype="boolean")})
    >>> ledger = keep_rates(audit, "lens")
    >>> ledger.rows[["id", "frames", "judged", "kept"]].values.tolist(), ledger.left_out
    ([['orla-50', 3, 2, 1]], {'trip never judged': 1})
    """
    group = _group(frames, by)
    judged = frames["kept"].notna()
    named = group.notna()
    missing = "no trip, since there is no time" if by == "trip" else f"{by} not known"
    reasons = {"trip never judged": int((~judged & named).sum()), missing: int((~named).sum())}
    counted = pd.DataFrame(
        {"id": group, "judged": judged.astype(int), "kept": frames["kept"].astype("boolean").fillna(False).astype(int)}
    )[named]
    rows = (
        counted.groupby("id", sort=True)
        .agg(frames=("judged", "size"), judged=("judged", "sum"), kept=("kept", "sum"))
        .reset_index()
    )
    low, high = wilson(rows["kept"].to_numpy(), rows["judged"].to_numpy(), confidence)
    rows["keep_rate"] = rows["kept"] / rows["judged"].where(rows["judged"] > 0)
    counted_any = rows["judged"] > 0  # of nothing judged the interval is everything: it says nothing
    rows["low"], rows["high"] = np.where(counted_any, low, np.nan), np.where(counted_any, high, np.nan)
    order = rows.sort_values(["judged", "frames", "id"], ascending=[False, False, True], kind="stable")
    return Ledger(order.reset_index(drop=True), {why: count for why, count in reasons.items() if count})


def _group(frames: pd.DataFrame, by: str) -> pd.Series:
    if by in {"lens", "body", "trip"}:
        return frames[by]
    if by == "pairing":
        adapter = frames["adapter"]
        return (frames["lens"] + " + " + adapter).mask(adapter == "", frames["lens"]).where(adapter.notna())
    if by == "focal":
        edges = list(itertools.pairwise(FOCAL_BANDS_MM))
        names = [f"{low}-{high} mm" if np.isfinite(high) else f"{low} mm and longer" for low, high in edges]
        focal_mm = frames["right_setting_low_mm"].fillna(frames["focal_length_mm"].where(frames["lens"].notna()))
        return pd.cut(focal_mm, FOCAL_BANDS_MM, right=False, labels=names).astype("str")
    raise ValueError(f"by = {by!r} should be one of {', '.join(GROUPINGS)}")
