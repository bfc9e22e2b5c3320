"""Flags: all that makes a frame worth a look, worst first."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.model.flags import FLAGS

__all__ = ["TRANSLATION_COUNTS_ABOVE", "add_flags"]

TRANSLATION_COUNTS_ABOVE = 0.3
"""Magnification above which the camera's shift is no longer small against its rotation. Derived: 23 % of it at 0.3,
for a shift as long as the focal length times the turn."""

Bools = npt.NDArray[np.bool_]


def add_flags(frames: pd.DataFrame) -> pd.DataFrame:
    """
    Add ``flags``, a list of names from :data:`auditor.model.flags.FLAGS`, worst first.

    Parameters
    ----------
    frames : DataFrame
        With every other column of the audit.

    Returns
    -------
    DataFrame
        Same rows, same order; an empty list where there is nothing to look at.
    """
    holds = _conditions(frames)
    bits = np.zeros(len(frames), dtype=np.int64)
    for place, flag in enumerate(FLAGS):
        bits |= holds[flag.name].astype(np.int64) << place
    # Few of the 2^n combinations occur: one list each, shared by all rows that have it.
    lists = {code: [flag.name for place, flag in enumerate(FLAGS) if code >> place & 1] for code in set(bits.tolist())}
    return frames.assign(flags=pd.Series([lists[code] for code in bits.tolist()], index=frames.index, dtype=object))


def _conditions(frames: pd.DataFrame) -> dict[str, Bools]:
    verdict, unreadable = frames["setting_verdict"], frames["format"].isna()
    wrong = verdict.isin(["too-short", "too-long"])
    known_on = frames["stabiliser_on"].astype("boolean").fillna(False)
    known_on |= frames["stabiliser_mode"].notna() & (frames["stabiliser_mode"] != "off")
    conditions = {
        "worse-than-off": wrong & (frames["residual"] > 1),
        "setting-too-long": verdict == "too-long",
        "setting-too-short": verdict == "too-short",
        "shake-likely": frames["blur_verdict"] == "likely",
        "stabiliser-on-tripod": (frames["support"] == "tripod") & known_on & frames["is_stabilised"],
        "pairing-contradicted": frames["sources_disagree"],
        "lens-on-two-bodies": frames["on_two_bodies"],
        "pairing-unknown": frames["lens"].isna() & ~unreadable & (frames["pairing_evidence"] != "confirmed"),
        "translation-counts": frames["magnification"] > TRANSLATION_COUNTS_ABOVE,
        "time-impossible": frames["at"].isna() & ~unreadable,
        "unreadable": unreadable,
    }
    return {name: condition.fillna(False).to_numpy(bool) for name, condition in conditions.items()}
