"""The columns of the desk's frames, and how each is held: words as categories, numbers in half the space."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

__all__ = ["COLUMNS", "column_of"]

_WORDS = (
    "archive",
    "trip",
    "body",
    "lens",
    "adapter",
    "pairing_evidence",
    "setting_verdict",
    "setting_cause",
    "blur_verdict",
    "flags",
    "problem",
)
_NUMBERS = (
    "offset_minutes",
    "latitude_deg",
    "longitude_deg",
    "exposure_time_s",
    "f_number",
    "subject_distance_m",
    "pairing_confidence",
    "setting_mm",
    "right_setting_mm",
    "right_setting_low_mm",
    "right_setting_high_mm",
    "residual",
    "stops_lost",
    "shake_blur_px",
    "blur_probability",
)
_WHOLE = ("size", "mtime_ns", "photographic_sensitivity", "rating", "image_width_px", "image_height_px")
COLUMNS = ("path", "captured_at", "kept", *_WHOLE, *_WORDS, *_NUMBERS)
"""Columns of the desk's frames. Those of few different words are categories; adapter "" is an empty mount."""


def column_of(values: pa.ChunkedArray, column: str) -> pd.Series[Any]:
    """
    Turn a column of the store into one of the desk.

    Parameters
    ----------
    values : pyarrow.ChunkedArray
    column : str
        One of ``COLUMNS``.
    """
    if column == "flags":
        joined = pc.binary_join(values, "+")
        values = pc.if_else(pc.equal(joined, ""), pa.scalar(None, pa.string()), joined)
    if column in _WORDS:
        return _categories(values)
    if column in _NUMBERS:
        return pd.Series(values.cast(pa.float32()).to_numpy())
    if column == "kept":
        return pd.Series(values.to_pandas(types_mapper={pa.bool_(): pd.BooleanDtype()}.get))
    if column in _WHOLE:
        return pd.Series(values.to_pandas(types_mapper={values.type: _nullable(values.type)}.get))
    return pd.Series(values.to_pandas())


def _nullable(kind: pa.DataType) -> pd.api.extensions.ExtensionDtype:
    return {pa.int8(): pd.Int8Dtype(), pa.int32(): pd.Int32Dtype()}.get(kind, pd.Int64Dtype())


def _categories(values: pa.ChunkedArray) -> pd.Series[Any]:
    encoded = pa.chunked_array([values.cast(pa.string()).combine_chunks()]).dictionary_encode().combine_chunks()
    codes = pc.fill_null(encoded.indices, -1).to_numpy(zero_copy_only=False)
    return pd.Series(pd.Categorical.from_codes(codes, categories=pd.Index(encoded.dictionary.to_pylist(), dtype="str")))
