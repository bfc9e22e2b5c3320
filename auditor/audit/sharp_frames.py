"""
What counts as a sharp frame, and how many there are, beside those that were kept.

A frame is sharp where its pixels say so (``blur_kind``), and not where they say shake, missed focus or a subject that
moved. Where they cannot tell, or were never looked at, the frame is in no rate and is counted apart. That is not the
same question as whether it was kept: a sharp frame may be dull, and a soft one worth keeping.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.burst_counts import count_in_bursts

__all__ = [
    "BLURRED",
    "CANNOT_TELL",
    "NEVER_MEASURED",
    "SHARP",
    "SHARP_COLUMNS",
    "Sharpness",
    "count_sharp",
    "kept_and_sharp",
    "sharp_codes",
]

SHARP, BLURRED, CANNOT_TELL, NEVER_MEASURED = 1, 0, -1, -2

_CODES: Mapping[str, int] = MappingProxyType(
    {"sharp": SHARP, "shake": BLURRED, "missed-focus": BLURRED, "subject-moved": BLURRED, "unknown": CANNOT_TELL}
)

SHARP_COLUMNS = (
    "sharp",
    "sharp_judged",
    "sharp_rate",
    "sharp_low",
    "sharp_high",
    "sharp_burst_low",
    "sharp_burst_high",
    "sharp_unknown",
    "never_measured",
    "kept_sharp",
    "kept_soft",
    "left_sharp",
    "left_soft",
)
"""Columns that stand beside the keep rate, in their order."""


@dataclass(frozen=True)
class Sharpness:
    """
    What the pixels say of all frames that are counted.

    Attributes
    ----------
    sharp, judged : int
        Frames that are sharp, of those whose kind of blur is told.
    unknown, never_measured : int
        Frames of which the pixels cannot tell, and those that were never looked at.
    kept_sharp, kept_soft, left_sharp, left_soft : int
        Frames both judged and told: kept and sharp, kept though soft, sharp but not kept, neither.
    correlation : float
        How alike frames of one burst are in being sharp, 0-1. [-]
    """

    sharp: int
    judged: int
    unknown: int
    never_measured: int
    kept_sharp: int
    kept_soft: int
    left_sharp: int
    left_soft: int
    correlation: float


def sharp_codes(blur_kind: pd.Series) -> npt.NDArray[np.int8]:
    """
    Return 1 for sharp, 0 for blurred, -1 for not to be told, -2 for never measured.

    Parameters
    ----------
    blur_kind : Series
        As in ``store/measures``; missing where a frame was never measured.

    Examples
    --------
    >>> sharp_codes(pd.Series(["sharp", "shake", "subject-moved", "unknown", None])).tolist()
    [1, 0, 0, -1, -2]
    """
    kinds = blur_kind.astype("category").cat
    by_kind = np.array([*(_CODES.get(str(kind), CANNOT_TELL) for kind in kinds.categories), NEVER_MEASURED], np.int8)
    return by_kind[kinds.codes.to_numpy()]  # -1, which is missing, takes the last


def kept_and_sharp(
    code: npt.NDArray[np.integer], kept: npt.NDArray[np.int8], sharp: npt.NDArray[np.int8], groups: int
) -> npt.NDArray[np.int64]:
    """
    Count frames by group, by what was kept and by what is sharp.

    Parameters
    ----------
    code : int array, shape (frames,)
        Group of each frame, from 0.
    kept : int array, shape (frames,)
        1, 0, or -1 for never judged.
    sharp : int array, shape (frames,)
        As `sharp_codes`.
    groups : int

    Returns
    -------
    int array, shape (groups, 3, 4)
        By kept (never judged, not kept, kept) and sharp (never measured, cannot tell, blurred, sharp). [frames]

    Examples
    --------
    >>> table = kept_and_sharp(np.array([0, 0]), np.array([1, -1], np.int8), np.array([0, -2], np.int8), 1)
    >>> table[0].tolist()
    [[1, 0, 0, 0], [0, 0, 0, 0], [0, 0, 1, 0]]
    """
    cell = (kept + np.int8(1)) * np.int8(4) + (sharp + np.int8(2))
    return np.bincount(code.astype(np.int64) * 12 + cell, minlength=groups * 12).reshape(groups, 3, 4)


def count_sharp(
    code: npt.NDArray[np.integer],
    kept: npt.NDArray[np.int8],
    sharp: npt.NDArray[np.int8] | None,
    burst: npt.NDArray[np.int32],
    groups: int,
    confidence: float = 0.95,
) -> tuple[pd.DataFrame, Sharpness | None]:
    """
    Count the sharp frames of each group, burst by burst as keepers are.

    Parameters
    ----------
    code : int array, shape (frames,)
        Group of each frame, from 0.
    kept : int array, shape (frames,)
        1, 0, or -1 for never judged.
    sharp : int array, shape (frames,), or None
        As `sharp_codes`; None where nothing was measured.
    burst : int array, shape (frames,)
        Frames of one burst lie together.
    groups : int
    confidence : float
        Of the intervals.

    Returns
    -------
    DataFrame
        Columns ``SHARP_COLUMNS``, one row a group.
    Sharpness or None
        None where no frame was measured.

    Examples
    --------
    >>> rows, told = count_sharp(np.zeros(3, int), np.array([1, 0, 0], np.int8), np.array([1, 1, -2], np.int8),
    ...                          np.arange(3, dtype=np.int32), 1)
    >>> rows.loc[0, ["sharp", "sharp_judged", "left_sharp"]].tolist(), told.never_measured
    ([2, 2, 1], 1)
    """
    told = np.zeros(0, np.intp) if sharp is None else np.flatnonzero(sharp >= 0)
    if sharp is None:
        table = np.zeros((groups, 3, 4), np.int64)
        table[:, 0, 0] = np.bincount(code, minlength=groups)
        sharp = np.zeros(0, np.int8)
    else:
        table = kept_and_sharp(code, kept, sharp, groups)
    found = count_in_bursts(code[told], sharp[told], burst[told], groups, confidence)
    rows = pd.DataFrame(
        {
            "sharp": found.yes,
            "sharp_judged": found.trials,
            "sharp_rate": found.rate,
            "sharp_low": found.low,
            "sharp_high": found.high,
            "sharp_burst_low": found.burst_low,
            "sharp_burst_high": found.burst_high,
            "sharp_unknown": table[:, :, 1].sum(axis=1),
            "never_measured": table[:, :, 0].sum(axis=1),
            "kept_sharp": table[:, 2, 3],
            "kept_soft": table[:, 2, 2],
            "left_sharp": table[:, 1, 3],
            "left_soft": table[:, 1, 2],
        }
    )
    total = table.sum(axis=0)
    if not total[:, 1:].sum():
        return rows, None
    return rows, Sharpness(
        sharp=int(found.yes.sum()),
        judged=int(found.trials.sum()),
        unknown=int(total[:, 1].sum()),
        never_measured=int(total[:, 0].sum()),
        kept_sharp=int(total[2, 3]),
        kept_soft=int(total[2, 2]),
        left_sharp=int(total[1, 3]),
        left_soft=int(total[1, 2]),
        correlation=found.correlation,
    )
