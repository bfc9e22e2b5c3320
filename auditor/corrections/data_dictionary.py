"""What the columns of an export mean: name, kind, unit, meaning; from the schemas where a column is one of theirs."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
import pandas as pd
import pyarrow as pa
from pandas.api import types

from auditor.model.tables import AUDIT, FRAMES, MEASURES, OVERLAPS, label, unit

__all__ = ["MEANINGS", "data_dictionary"]

_NO_UNIT = ""

MEANINGS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "adapter": (_NO_UNIT, "Adapter; several joined by +, lens side first"),
        "at": (_NO_UNIT, "Local time after clock corrections"),
        "blur_likely": ("frames", "Frames on which shake is likely"),
        "both": (_NO_UNIT, "Frames that were both judged and told"),
        "burst_high": (_NO_UNIT, "Upper end of that interval for as many frames as the bursts are worth"),
        "burst_low": (_NO_UNIT, "Lower end of the 95 % interval for as many frames as the bursts are worth"),
        "bursts": (_NO_UNIT, "Runs of frames that were taken as one, each a single trial"),
        "design_effect": (_NO_UNIT, "Frames of the bursts that are worth one independent frame"),
        "first": (_NO_UNIT, "Time of the first frame"),
        "first_at": (_NO_UNIT, "Place of the first frame among all, by time, from 0"),
        "frames": (_NO_UNIT, "Frames"),
        "high": (_NO_UNIT, "Upper end of the 95 % interval (Wilson) of the keep rate"),
        "id": (_NO_UNIT, "What the row is about, by its id"),
        "judged": (_NO_UNIT, "Frames in trips that were judged"),
        "keep_rate": (_NO_UNIT, "Kept over judged, 0-1"),
        "kept": (_NO_UNIT, "Frames that were kept"),
        "kept_sharp": (_NO_UNIT, "Frames judged and told: kept, and sharp by their pixels"),
        "kept_soft": (_NO_UNIT, "Frames judged and told: kept, though not sharp"),
        "key": (_NO_UNIT, "What the row is about, by its id or step"),
        "last": (_NO_UNIT, "Time of the last frame"),
        "last_at": (_NO_UNIT, "Place of the last frame among all, by time, from 0"),
        "left_sharp": (_NO_UNIT, "Frames judged and told: sharp, but not kept"),
        "left_soft": (_NO_UNIT, "Frames judged and told: neither kept nor sharp"),
        "limiting_cause": (_NO_UNIT, "What limited the frame most: shake, subject, focus, diffraction or pixels"),
        "lost_in_all": ("stop", "Stops lost by all frames of the stretch, added up"),
        "low": (_NO_UNIT, "Lower end of the 95 % interval (Wilson) of the keep rate"),
        "measure_problem": (_NO_UNIT, "Why the frame could not be measured"),
        "mtf50_high_cycles_px": ("cycles/px", "Upper end of the frame's MTF50 in the picture"),
        "mtf50_high_lp_mm": ("lp/mm", "Upper end of the frame's MTF50 on the sensor"),
        "mtf50_low_cycles_px": ("cycles/px", "Lower end of the frame's MTF50 in the picture"),
        "mtf50_low_lp_mm": ("lp/mm", "Lower end of the frame's MTF50 on the sensor"),
        "name": (_NO_UNIT, "What the row is about, in words"),
        "never_measured": (_NO_UNIT, "Frames whose pixels were never looked at"),
        "period": (_NO_UNIT, "Day, month or year, in words"),
        "reason": (_NO_UNIT, "Why the frame is worth a look, in words"),
        "share": (_NO_UNIT, "Share of the group's frames, 0-1"),
        "sharp": (_NO_UNIT, "Frames that the pixels call sharp; an estimate, about one answer in twenty is wrong"),
        "sharp_burst_high": (_NO_UNIT, "Upper end of that interval for as many frames as the bursts are worth"),
        "sharp_burst_low": (_NO_UNIT, "Lower end of the 95 % interval for as many frames as the bursts are worth"),
        "sharp_high": (_NO_UNIT, "Upper end of the 95 % interval (Wilson) of the sharp rate"),
        "sharp_judged": (_NO_UNIT, "Frames whose kind of blur is told"),
        "sharp_low": (_NO_UNIT, "Lower end of the 95 % interval (Wilson) of the sharp rate"),
        "sharp_rate": (_NO_UNIT, "Sharp over told, 0-1"),
        "sharp_unknown": (_NO_UNIT, "Frames that were looked at but of which the pixels cannot tell"),
        "shrunk": (_NO_UNIT, "Keep rate drawn towards what all rows show, the more the fewer frames it rests on"),
        "shrunk_high": (_NO_UNIT, "Upper end of its 95 % interval"),
        "shrunk_low": (_NO_UNIT, "Lower end of its 95 % interval"),
        "start": (_NO_UNIT, "First day of the period"),
        "wrong": (_NO_UNIT, "Frames with a wrong setting"),
    }
)
"""Unit and meaning of the columns of summaries, which no schema holds."""


def data_dictionary(rows: pd.DataFrame, *, is_summary: bool = False) -> pd.DataFrame:
    """
    Describe the columns of an export.

    Parameters
    ----------
    rows : DataFrame
    is_summary : bool
        Each row stands for several frames, so that a column such as ``kept`` is a count.

    Returns
    -------
    DataFrame
        One row a column: ``column, kind, unit, meaning``. An unknown column has an empty meaning rather than a
        guessed one.

    Examples
    --------
    >>> data_dictionary(pd.DataFrame({"exposure_time_s": [0.01]})).loc[0].tolist()
    ['exposure_time_s', 'number', 's', 'Exposure time']
    """
    told = [(str(name), _kind(rows[name]), *_told(str(name), is_summary=is_summary)) for name in rows.columns]
    return pd.DataFrame(told, columns=["column", "kind", "unit", "meaning"], dtype="str")


def _told(column: str, *, is_summary: bool) -> tuple[str, str]:
    if is_summary and column in MEANINGS:
        return MEANINGS[column]
    for schema in (FRAMES, AUDIT, MEASURES, OVERLAPS):
        if column in schema.names:
            return unit(schema, column), label(schema, column)
    return MEANINGS.get(column, (_NO_UNIT, ""))


def _kind(column: pd.Series) -> str:
    kinds = (
        (types.is_bool_dtype, "yes or no"),
        (types.is_integer_dtype, "whole number"),
        (types.is_numeric_dtype, "number"),
        (types.is_datetime64_any_dtype, "time"),
    )
    for is_so, kind in kinds:
        if is_so(column):
            return kind
    first = next((held for held in column if isinstance(held, (list, tuple, np.ndarray, pa.Array))), None)
    return "text" if first is None else "list of text"
