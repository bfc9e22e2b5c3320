from __future__ import annotations

import pandas as pd

from auditor.corrections.candidates import add_candidates, runs_of
from tests.kits import small_kit

KIT = small_kit()


def frames(**columns: list[object]) -> pd.DataFrame:
    usual = {
        "path": "a.jpg", "format": "jpeg", "trip": "one", "body": "one", "lens": "orla-50", "adapter": "m42-plain",
        "pairing_confidence": 0.97, "pairing_evidence": "log", "logged_focal_mm": float("nan"), "lens_model": None,
        "logged_aperture": 2.8, "focal_length_mm": 50.0,
    }  # fmt: skip
    count = len(next(iter(columns.values())))
    table = pd.DataFrame({name: columns.get(name, [value] * count) for name, value in usual.items()})
    texts = ["path", "format", "trip", "body", "lens", "adapter", "pairing_evidence", "lens_model"]
    times = pd.date_range("2026-05-02 10:00", periods=count, freq="min", unit="us")
    return table.astype(dict.fromkeys(texts, "str")).assign(at=columns.get("at", times))


def test_each_frame_that_is_left_alone_has_its_reason() -> None:
    table = frames(
        format=["jpeg", None, "jpeg", "jpeg", "jpeg", "jpeg", "jpeg"],
        lens=["gone-50", "orla-50", None, "vesper-25", "orla-50", "orla-50", "orla-50"],
        adapter=["m42-plain", "m42-plain", "m42-plain", "", "m42-plain", "m42-plain", "m42-nl"],
        pairing_evidence=["log", "log", "log", "contacts", "log", "log+confirmed", "log"],
        pairing_confidence=[0.99, 0.99, 0.99, 0.99, 0.94, 0.10, 0.99],
    )
    assert add_candidates(table, KIT, 0.95)["left_because"].fillna("").tolist() == [
        "the kit has changed since the audit; run audit again",
        "the file could not be read",
        "the lens is not known",
        "the lens told the body itself",
        "less sure than 0.95",
        "",  # confirmed is enough
        "the kit has changed since the audit; run audit again",  # that adapter fits the other body
    ]


def test_a_pairing_exactly_as_sure_as_asked_is_sure_enough() -> None:
    assert add_candidates(frames(pairing_confidence=[0.95]), KIT, 0.95)["left_because"].isna().all()
    assert add_candidates(frames(pairing_confidence=[None]), KIT, 0.95)["left_because"].notna().all()


def test_runs_end_where_lens_aperture_body_or_trip_change_and_know_their_least_sure_frame() -> None:
    table = frames(
        lens=["orla-50", "orla-50", "hale-85", "orla-50", "orla-50", "orla-50"],
        logged_aperture=[2.8, 2.8, 2.8, 2.8, float("nan"), float("nan")],
        pairing_confidence=[0.99, 0.96, 0.97, 0.98, 0.95, 0.2],
    ).sample(frac=1, random_state=3)
    found = add_candidates(table, KIT, 0.95)
    assert found.index.tolist() == table.index.tolist()
    assert found.sort_index()["run"].tolist() == [1, 1, 2, 3, 4, 4]
    counts = pd.DataFrame({"run": [1, 2, 3, 4], "new": [2, 1, 1, 1]})
    runs = runs_of(found, counts)
    assert runs["confidence"].tolist() == [0.96, 0.97, 0.98, 0.95]  # the frame that is left alone does not count
    assert runs["first"].is_monotonic_increasing
    assert runs["recorded"].tolist() == ["50 mm"] * 4
