"""Sharp beside kept: counts of the pixels' verdicts next to those of the photographer's choice."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.sharp_frames import kept_and_sharp, sharp_codes
from auditor.stats.intervals import wilson
from dashboards.desk import Desk, codes_of
from dashboards.filters import NOT_KNOWN, Filters

__all__ = ["FIELDS", "Codes", "counted", "kept_and_sharp_by_lens", "sharp_of", "with_rates"]

Codes = npt.NDArray[np.int8]
Floats = npt.NDArray[np.float64]

FIELDS = {
    "kept_sharp": "Kept and sharp",
    "kept_soft": "Kept, though soft",
    "left_sharp": "Sharp, not kept",
    "left_soft": "Neither",
}
"""The four fields of kept against sharp, and what they are called."""


def sharp_of(desk: Desk, filters: Filters) -> Codes | None:
    """Return `sharp_codes` of the frames that the filters leave, None where nothing was measured at all."""
    if "blur_kind" not in desk.measures:
        return None
    kinds = desk.measures["blur_kind"]
    return sharp_codes(kinds if filters.is_empty else kinds[desk.mask(filters)])


def counted(codes: npt.NDArray[np.integer], groups: int, kept: pd.Series[bool], sharp: Codes | None) -> pd.DataFrame:
    """
    Count the frames of each group: all, judged, kept, and where they were measured the sharp ones.

    Parameters
    ----------
    codes : int array, shape (frames,)
        Group of each frame, from 0.
    groups : int
    kept : pandas.Series
        Missing where a trip was never judged.
    sharp : int8 array, shape (frames,), or None
        As ``sharp_of``.

    Returns
    -------
    pandas.DataFrame
        Columns ``frames, judged, kept``; with measures also ``sharp_judged, sharp, sharp_unknown, never_measured`` and
        those of ``FIELDS``.
    """
    judged, is_kept = kept.notna().to_numpy(), kept.fillna(False).to_numpy(dtype=bool)
    counts = pd.DataFrame(
        {
            "frames": np.bincount(codes, minlength=groups),
            "judged": np.bincount(codes[judged], minlength=groups),
            "kept": np.bincount(codes[is_kept], minlength=groups),
        }
    )
    if sharp is None:
        return counts
    table = kept_and_sharp(codes, np.where(judged, is_kept, -1).astype(np.int8), sharp, groups)
    return counts.assign(
        sharp_judged=table[:, :, 2:].sum(axis=(1, 2)),
        sharp=table[:, :, 3].sum(axis=1),
        sharp_unknown=table[:, :, 1].sum(axis=1),
        never_measured=table[:, :, 0].sum(axis=1),
        kept_sharp=table[:, 2, 3],
        kept_soft=table[:, 2, 2],
        left_sharp=table[:, 1, 3],
        left_soft=table[:, 1, 2],
    )


def with_rates(counts: pd.DataFrame) -> pd.DataFrame:
    """Add ``keep_rate, low, high`` and, with measures, ``sharp_rate, sharp_low, sharp_high``: Wilson's at 95 %."""
    rate, low, high = _rate(counts["kept"], counts["judged"])
    rates = counts.assign(keep_rate=rate, low=low, high=high)
    if "sharp" not in counts:
        return rates
    rate, low, high = _rate(counts["sharp"], counts["sharp_judged"])
    return rates.assign(sharp_rate=rate, sharp_low=low, sharp_high=high)


def _rate(hits: pd.Series[int], trials: pd.Series[int]) -> tuple[Floats, Floats, Floats]:
    of = trials.astype(float).where(trials > 0).to_numpy()  # of nothing there is no rate
    low, high = wilson(hits.to_numpy(dtype=float), of)
    return hits.to_numpy(dtype=float) / of, np.asarray(low), np.asarray(high)


def kept_and_sharp_by_lens(desk: Desk, filters: Filters) -> pd.DataFrame:
    """
    Count each lens's frames by what was kept and what is sharp.

    Parameters
    ----------
    desk : Desk
    filters : Filters

    Returns
    -------
    pandas.DataFrame
        Columns ``key, name``, those of ``FIELDS``, and ``both``, their sum; the most first. Lenses without a frame that
        is both judged and told are left out; empty where nothing was measured.
    """
    keys = [*desk.frames["lens"].cat.categories, NOT_KNOWN]
    sharp = sharp_of(desk, filters)
    if sharp is None:
        return pd.DataFrame(columns=["key", "name", *FIELDS, "both"])
    frames = desk.rows(filters, ["lens", "kept"])
    counts = counted(codes_of(frames["lens"]), len(keys), frames["kept"], sharp)[list(FIELDS)]
    named = pd.DataFrame({"key": keys, "name": [desk.name("lens", key) for key in keys]})
    table = pd.concat([named, counts], axis=1).assign(both=counts.sum(axis=1))
    shown = table[table["both"] > 0].sort_values("both", ascending=False, kind="stable")
    return shown.reset_index(drop=True)
