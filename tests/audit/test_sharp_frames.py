from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.proportion import proportion_confint

from auditor.audit.ledger import keep_rates
from auditor.audit.sharp_frames import SHARP_COLUMNS, sharp_codes
from auditor.model.tables import MEASURES, label
from tests.audit.test_ledger import audit, bursts


def test_every_kind_of_blur_that_the_measures_know_is_sharp_or_not_or_cannot_be_told() -> None:
    kinds = label(MEASURES, "blur_kind").split(", ")
    codes = dict(zip(kinds, sharp_codes(pd.Series(kinds)).tolist(), strict=True))
    assert codes == {"sharp": 1, "shake": 0, "missed-focus": 0, "subject-moved": 0, "unknown": -1}


@pytest.mark.parametrize("kind", ["object", "category", "str"])
def test_a_frame_that_was_never_measured_is_told_from_one_that_cannot_be_told(kind: str) -> None:
    assert sharp_codes(pd.Series(["sharp", None, "unknown", "quite-new"], dtype=kind)).tolist() == [1, -2, -1, -1]
    assert sharp_codes(pd.Series([], dtype=kind)).tolist() == []


def test_the_rate_is_of_what_was_told_and_its_interval_wilson_s() -> None:
    # Reference: statsmodels.stats.proportion.proportion_confint(method="wilson").
    kinds = ["sharp"] * 81 + ["shake"] * 100 + ["missed-focus"] * 80 + ["subject-moved"] * 2 + ["unknown"] * 7 + [None]
    ledger = keep_rates(audit(kept=[True] * len(kinds), blur_kind=kinds), "lens")
    row = ledger.rows.iloc[0]
    assert row[["sharp", "sharp_judged", "sharp_unknown", "never_measured"]].tolist() == [81, 263, 7, 1]
    assert row["sharp_rate"] == pytest.approx(81 / 263)
    expected = proportion_confint(81, 263, method="wilson")
    assert row[["sharp_low", "sharp_high"]].tolist() == pytest.approx(list(expected), abs=1e-12)
    assert ledger.sharpness is not None
    assert (ledger.sharpness.sharp, ledger.sharpness.judged) == (81, 263)
    assert (ledger.sharpness.unknown, ledger.sharpness.never_measured) == (7, 1)


def test_sharp_is_counted_as_kept_is() -> None:
    """Were a frame sharp exactly where it was kept, all figures would be the same, those of the bursts too."""
    fates = [[True] * 4, [True, False, True], [False] * 5, [True], [False, False]] * 12
    table = pd.concat([bursts(fates), bursts(fates[::-1][:31], lens="hale-85")], ignore_index=True)
    table["blur_kind"] = np.where(table["kept"], "sharp", "shake")
    ledger = keep_rates(table, "lens")
    for kept, sharp in (
        ("judged", "sharp_judged"),
        ("kept", "sharp"),
        ("keep_rate", "sharp_rate"),
        ("low", "sharp_low"),
        ("high", "sharp_high"),
        ("burst_low", "sharp_burst_low"),
        ("burst_high", "sharp_burst_high"),
    ):
        assert ledger.rows[sharp].tolist() == pytest.approx(ledger.rows[kept].tolist()), sharp
    assert ledger.sharpness is not None
    assert ledger.sharpness.correlation == pytest.approx(ledger.correlation)
    assert (ledger.rows["burst_low"] < ledger.rows["low"]).all()


def test_kept_and_sharp_are_two_questions() -> None:
    table = audit(
        kept=[True, True, True, False, False, False, False, None, None, True],
        blur_kind=["sharp", "sharp", "shake", "sharp", "shake", "shake", "shake", "sharp", "unknown", None],
    )
    ledger = keep_rates(table, "lens")
    row = ledger.rows.iloc[0]
    assert row[["kept_sharp", "kept_soft", "left_sharp", "left_soft"]].tolist() == [2, 1, 1, 3]
    assert row[["kept", "judged", "sharp", "sharp_judged"]].tolist() == [4, 8, 4, 8]


def test_the_four_fields_are_those_of_a_cross_table() -> None:
    # Reference: pandas.crosstab over the frames that are both judged and told.
    random = np.random.default_rng(5)
    table = audit(
        kept=random.choice(np.array([True, False, None], dtype=object), 400, p=[0.4, 0.4, 0.2]).tolist(),
        lens=random.choice(["orla-50", "hale-85", "bruna-135"], 400).tolist(),
        blur_kind=random.choice(np.array(["sharp", "shake", "unknown", None], dtype=object), 400).tolist(),
    )
    both = table[table["kept"].notna() & table["blur_kind"].isin(["sharp", "shake"])]
    for lens, row in keep_rates(table, "lens").rows.set_index("id").iterrows():
        here = both[both["lens"] == lens]
        cross = pd.crosstab(here["kept"], here["blur_kind"])
        assert row["kept_sharp"] == cross.loc[True, "sharp"]
        assert row["kept_soft"] == cross.loc[True, "shake"]
        assert row["left_sharp"] == cross.loc[False, "sharp"]
        assert row["left_soft"] == cross.loc[False, "shake"]


def test_where_nothing_was_measured_there_is_no_rate() -> None:
    for table in (audit(kept=[True, False]), audit(kept=[True, False], blur_kind=[None, None])):
        ledger = keep_rates(table, "lens")
        assert ledger.sharpness is None
        assert ledger.rows.columns.intersection(SHARP_COLUMNS).tolist() == list(SHARP_COLUMNS)
        assert ledger.rows.loc[0, ["sharp_judged", "never_measured", "frames"]].tolist() == [0, 2, 2]
        assert ledger.rows[["sharp_rate", "sharp_low", "sharp_burst_high"]].isna().all(axis=None)


def test_filters_and_frames_without_a_group_are_in_neither_rate() -> None:
    table = audit(
        kept=[True] * 4, lens=["orla-50", None, "hale-85", "orla-50"], body=["one", "one", "one", "two"],
        blur_kind=["sharp", "sharp", "shake", "shake"],
    )  # fmt: skip
    ledger = keep_rates(table, "lens", only={"body": "one"})
    assert ledger.rows.set_index("id")["sharp"].to_dict() == {"hale-85": 0, "orla-50": 1}
    assert ledger.sharpness is not None
    assert ledger.sharpness.judged == 2
