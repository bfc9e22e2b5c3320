from __future__ import annotations

import pandas as pd
import pytest
from statsmodels.stats.proportion import proportion_confint

from auditor.audit.ledger import GROUPINGS, keep_rates


def audit(**columns: list[object]) -> pd.DataFrame:
    length = len(next(iter(columns.values())))
    usual: dict[str, list[object]] = {
        "lens": ["orla-50"] * length,
        "adapter": [""] * length,
        "body": ["one"] * length,
        "trip": ["2026-05-01"] * length,
        "right_setting_low_mm": [50.0] * length,
        "focal_length_mm": [None] * length,
        "kept": [True] * length,
    }
    table = pd.DataFrame({**usual, **columns})
    for name in ("lens", "adapter", "body", "trip"):
        table[name] = table[name].astype("str")
    return table.assign(
        kept=table["kept"].astype("boolean"), focal_length_mm=table["focal_length_mm"].astype("float64")
    )


def test_the_interval_is_wilson_s() -> None:
    # Reference: statsmodels.stats.proportion.proportion_confint(method="wilson").
    rows = keep_rates(audit(kept=[True] * 81 + [False] * 182), "lens").rows
    low, high = proportion_confint(81, 263, method="wilson")
    assert rows.loc[0, ["low", "high"]].tolist() == pytest.approx([low, high], abs=1e-12)
    assert rows.loc[0, "keep_rate"] == pytest.approx(81 / 263)


@pytest.mark.parametrize(
    ("by", "ids"),
    [
        ("lens", ["orla-50", "hale-85"]),
        ("pairing", ["orla-50 + m42-reducer", "hale-85"]),
        ("body", ["one", "two"]),
        ("trip", ["2026-05-01", "Isles"]),
        ("focal", ["35-50 mm", "400 mm and longer"]),
    ],
)
def test_each_grouping_has_its_ids_most_judged_first(by: str, ids: list[str]) -> None:
    table = audit(
        lens=["orla-50", "orla-50", "hale-85"],
        adapter=["m42-reducer", "m42-reducer", ""],
        body=["one", "one", "two"],
        trip=["2026-05-01", "2026-05-01", "Isles"],
        right_setting_low_mm=[35.5, 35.5, None],
        focal_length_mm=[None, None, 400.0],
    )
    assert keep_rates(table, by).rows["id"].tolist() == ids
    assert {"lens", "pairing", "body", "trip", "focal"} < set(GROUPINGS)


def test_what_is_left_out_is_counted_with_its_reason_and_no_frame_twice() -> None:
    table = audit(lens=["orla-50", None, None, "hale-85"], kept=[True, True, None, None])
    ledger = keep_rates(table, "lens")
    assert ledger.left_out == {"trip never judged": 1, "lens not known": 2}
    assert ledger.rows["judged"].sum() + sum(ledger.left_out.values()) == len(table)
    assert keep_rates(audit(trip=[None]), "trip").left_out == {"no trip, since there is no time": 1}


def test_a_lens_that_was_never_judged_keeps_a_row_without_a_rate() -> None:
    row = keep_rates(audit(kept=[None, None]), "lens").rows.iloc[0]
    assert (row["frames"], row["judged"]) == (2, 0)
    assert pd.isna(row["keep_rate"])
    assert pd.isna(row["low"])
    assert pd.isna(row["high"])


def test_an_adapter_that_is_not_known_is_no_pairing() -> None:
    assert keep_rates(audit(adapter=[None]), "pairing").left_out == {"pairing not known": 1}


def test_another_grouping_is_refused() -> None:
    with pytest.raises(ValueError, match="by = 'mood'"):
        keep_rates(audit(kept=[True]), "mood")


def test_an_empty_audit_has_an_empty_ledger() -> None:
    assert keep_rates(audit(kept=[]), "lens").rows.empty
