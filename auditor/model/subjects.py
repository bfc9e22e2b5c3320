"""The private table of frames that were set beside a sibling, so that it is done only once."""

from __future__ import annotations

import pyarrow as pa

from auditor.model.tables import KEY, MEASURES, schema_version

__all__ = ["SUBJECTS", "SUBJECT_METHOD"]

SUBJECT_METHOD = 2
"""Version of the comparison; one of another version is made anew. Far cheaper than `auditor.model.looks.METHOD`."""

SUBJECTS = pa.schema(
    [
        *(MEASURES.field(column) for column in KEY),
        pa.field("beside", pa.string()),
        pa.field("sibling", pa.string()),
        pa.field("moved", pa.bool_()),
        pa.field("confidence", pa.float64()),
        pa.field("problem", pa.string()),
    ],
    metadata={"table": "subjects", "schema_version": str(schema_version("subjects"))},
)
"""
``beside`` is a digest of the frame and of those around it, as their files are; ``sibling`` the one that was chosen,
null where none will do; ``confidence`` that a subject moved.
"""
