"""The private table behind store/measures: what was measured on each file, so that it is decoded only once."""

from __future__ import annotations

import pyarrow as pa

from auditor.model.tables import KEY, MEASURES, schema_version

__all__ = ["LOOKS", "MEASURED_COLUMNS", "METHOD"]

METHOD = 2
"""Version of the measuring; a look of another version is measured anew."""

MEASURED_COLUMNS = (
    "edge_width_px",
    "sharp_fraction",
    "blur_kind",
    "blur_confidence",
    "shake_direction_deg",
    "shake_length_px",
    "problem",
)
"""Columns that go into store/measures as they are; the others depend on the frames beside."""

LOOKS = pa.schema(
    [
        *(MEASURES.field(column) for column in (*KEY, *MEASURED_COLUMNS)),
        pa.field("size", pa.int64()),
        pa.field("mtime_ns", pa.int64()),
        pa.field("method", pa.int16()),
        pa.field("raw_edges", pa.float64()),
        pa.field("raw_gradients", pa.float64()),
        pa.field("small_picture", pa.binary()),
        pa.field("small_width_px", pa.int16()),
        pa.field("looked_twice", pa.bool_()),
    ],
    metadata={"table": "looks", "schema_version": str(schema_version("looks"))},
)
"""Not part of the contract and of no use outside: raw values mean nothing between scenes, lenses or ISO."""
