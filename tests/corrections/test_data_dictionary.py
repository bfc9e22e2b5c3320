from __future__ import annotations

import pandas as pd
import pyarrow as pa
import pytest

from auditor.corrections.data_dictionary import MEANINGS, data_dictionary
from auditor.model.tables import AUDIT, FRAMES, MEASURES, OVERLAPS
from auditor.pipeline.auditing import to_frame


@pytest.mark.parametrize("schema", [FRAMES, AUDIT, MEASURES, OVERLAPS], ids=["frames", "audit", "measures", "overlaps"])
def test_every_column_of_the_store_is_told_as_its_schema_tells_it(schema: pa.Schema) -> None:
    told = data_dictionary(to_frame(schema.empty_table())).set_index("column")
    assert told.index.tolist() == schema.names
    for field in schema:
        row = told.loc[field.name]
        assert row["meaning"]
        if field.name != "problem":  # frames and measures have one each
            assert row["meaning"] == field.metadata[b"label"].decode()
            assert row["unit"] == field.metadata[b"unit"].decode()


def test_kinds() -> None:
    rows = pd.DataFrame(
        {
            "flags": [["a"], []],
            "kept": pd.array([True, None], dtype="boolean"),
            "rating": pd.array([1, None], dtype="Int8"),
            "captured_at": pd.to_datetime(["2026-05-02", None]),
            "stops_lost": [0.5, None],
            "lens": pd.Series(["a", None], dtype="category"),
        }
    )
    assert data_dictionary(rows)["kind"].tolist() == [
        "list of text", "yes or no", "whole number", "time", "number", "text",
    ]  # fmt: skip


def test_a_count_is_told_as_a_count() -> None:
    rows = pd.DataFrame({"kept": [3]})
    assert data_dictionary(rows, is_summary=True)["meaning"][0] == MEANINGS["kept"][1]
    assert data_dictionary(rows)["meaning"][0] != MEANINGS["kept"][1]


def test_a_column_that_nobody_knows_is_not_guessed() -> None:
    assert data_dictionary(pd.DataFrame({"mystery": ["x"]})).loc[0].tolist() == ["mystery", "text", "", ""]
