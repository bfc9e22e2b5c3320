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


def bursts(fates: list[list[bool]], lens: str = "orla-50") -> pd.DataFrame:
    """Frames half a second apart, a minute between bursts."""
    rows = [
        (pd.Timestamp("2026-05-01 10:00") + pd.Timedelta(minutes=number, milliseconds=500 * place), kept)
        for number, burst in enumerate(fates)
        for place, kept in enumerate(burst)
    ]
    table = audit(kept=[kept for _, kept in rows], lens=[lens] * len(rows))
    return table.assign(captured_at=[at for at, _ in rows], exposure_time_s=0.01)


def test_bursts_of_one_fate_count_as_one_trial_each() -> None:
    # With rho = 1 the design effect of bursts of four is 4 (Kish): 160 frames are worth 40, and Wilson's interval is
    # that of 20 of 40 (statsmodels).
    table = bursts([[True] * 4, [False] * 4] * 20)
    ledger = keep_rates(table, "lens")
    row = ledger.rows.iloc[0]
    assert ledger.correlation == pytest.approx(1.0)
    assert (row["bursts"], row["design_effect"]) == (40, pytest.approx(4.0))
    assert row[["burst_low", "burst_high"]].tolist() == pytest.approx(proportion_confint(20, 40, method="wilson"))
    assert row[["low", "high"]].tolist() == pytest.approx(proportion_confint(80, 160, method="wilson"))


def test_bursts_of_mixed_fates_widen_little() -> None:
    row = keep_rates(bursts([[True, False, True, False]] * 30), "lens").rows.iloc[0]
    assert row["design_effect"] == 1.0
    assert row["burst_low"] == row["low"]


def test_rates_are_drawn_towards_what_all_rows_show_the_more_the_fewer_frames() -> None:
    few = audit(kept=[True] * 4, lens=["few"] * 4)
    many = audit(kept=[True] * 80 + [False] * 20, lens=["many"] * 100)
    rest = audit(kept=[True] * 30 + [False] * 70, lens=["rest"] * 100)
    ledger = keep_rates(pd.concat([few, many, rest], ignore_index=True), "lens")
    rows = ledger.rows.set_index("id")
    assert ledger.prior is not None
    assert rows.loc["few", "shrunk"] < 0.95
    assert abs(rows.loc["many", "shrunk"] - 0.8) < abs(rows.loc["few", "shrunk"] - 1.0)
    assert (rows["shrunk_low"] < rows["shrunk"]).all()
    assert (rows["shrunk"] < rows["shrunk_high"]).all()


def test_two_rows_that_are_alike_do_not_prove_that_all_are() -> None:
    # The rows do not differ, so the fitted prior is as strong as may be: it may weigh no more than their 200 frames.
    table = audit(kept=[True, False] * 100, body=["one"] * 100 + ["two"] * 100)
    ledger = keep_rates(table, "body")
    assert ledger.prior is not None
    assert ledger.prior.alpha + ledger.prior.beta == pytest.approx(200, rel=1e-3)


def test_one_row_is_drawn_nowhere() -> None:
    ledger = keep_rates(audit(kept=[True, False]), "lens")
    assert ledger.prior is None
    assert ledger.rows["shrunk"].isna().all()


def test_a_filter_counts_only_its_frames_and_an_unknown_group_none() -> None:
    table = audit(lens=["orla-50", "orla-50", "hale-85"], body=["one", "two", "one"], kept=[True, False, True])
    rows = keep_rates(table, "lens", only={"body": "one"}).rows
    assert rows.set_index("id")["judged"].to_dict() == {"hale-85": 1, "orla-50": 1}
    assert keep_rates(table, "lens", only={"body": "nine"}).rows.empty


def test_the_order_of_frames_does_not_matter() -> None:
    table = bursts([[True] * 4, [False] * 4] * 5)
    mixed = table.sample(frac=1.0, random_state=4)
    assert keep_rates(mixed, "lens").rows.equals(keep_rates(table, "lens").rows)


def test_very_long_bursts_are_counted_too() -> None:
    table = audit(kept=[True, False] * 4000).assign(burst=0)
    assert keep_rates(table, "lens").rows.loc[0, ["judged", "kept", "bursts"]].tolist() == [8000, 4000, 1]
