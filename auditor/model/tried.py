"""The private table beside store/overlaps: by which way of comparing each of its pairs was tried, as the files were."""

from __future__ import annotations

import pyarrow as pa

from auditor.model.tables import OVERLAPS, schema_version

__all__ = ["COMPARING", "PAIR_KEY", "TRIED"]

COMPARING = 2
"""Version of the comparing; a pair tried by another version is tried anew. The frames' measures stay as they are."""

PAIR_KEY = ("archive", "path_a", "path_b")
"""The columns that together name a pair."""

TRIED = pa.schema(
    [
        *(OVERLAPS.field(column) for column in PAIR_KEY),
        pa.field("comparing", pa.int16()),
        pa.field("mtime_ns_a", pa.int64()),
        pa.field("mtime_ns_b", pa.int64()),
    ],
    metadata={"table": "tried", "schema_version": str(schema_version("tried"))},
)
"""Not part of the contract. Stores from before it have none: all their pairs are tried anew, once."""
