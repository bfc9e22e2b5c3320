"""Small desks for the pages' tests: three frames by hand, and a season of invented ones."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import numpy as np
import pyarrow as pa

from auditor.model.kit import Adapter, Body, Kit, Lens
from auditor.model.tables import AUDIT, FRAMES, MEASURES
from dashboards.desk import Desk, desk_of
from dashboards.measured import MEASURED, measures_beside

KIT = Kit(
    bodies=(
        Body(
            id="one", name="Silver body", exif_model="Silverline 2", sensor_mm=(17.4, 13.0), mount="MFT",
            stabiliser_stops=5.0,
        ),
        Body(
            id="two", name="Old black body", exif_model="Coalbox", sensor_mm=(23.5, 15.6), mount="MD",
            stabiliser_stops=0.0,
        ),
    ),
    lenses=(
        Lens(id="orla-50", name="Orla 50 mm f/1.4", focal_mm=(50, 50), mount="M42"),
        Lens(id="hale-85", name="Hale 85 mm f/2", focal_mm=(85, 85), mount="M42"),
        Lens(id="brook-28", name="Brook 28 mm f/2.8", focal_mm=(28, 28), mount="MD"),
        Lens(id="tern-135", name="Tern 135 mm f/3.5", focal_mm=(135, 135), mount="M42"),
        Lens(id="wide-zoom", name="Fenwick 12-40 mm", focal_mm=(12, 40), mount="MFT", contacts=True),
    ),
    adapters=(
        Adapter(id="m42-reducer", name="M42 reducer 0.71×", lens_mount="M42", body_mount="MFT", factor=0.71),
        Adapter(id="m42-plain", name="M42 plain", lens_mount="M42", body_mount="MFT"),
    ),
)  # fmt: skip


def frames_table(rows: list[dict[str, Any]]) -> pa.Table:
    needed = {"archive": "main", "size": 1, "mtime_ns": 1, "format": "jpeg"}
    return pa.Table.from_pylist([needed | row for row in rows], schema=FRAMES)


def audit_table(rows: list[dict[str, Any]]) -> pa.Table:
    return pa.Table.from_pylist([{"archive": "main", "flags": []} | row for row in rows], schema=AUDIT)


THREE_FRAMES = [
    {"path": "harbour/a.jpg", "captured_at": dt.datetime(2026, 5, 1, 10), "exposure_time_s": 1 / 60, "rating": 3},
    {"path": "harbour/b.jpg", "captured_at": dt.datetime(2026, 5, 2, 14, 20), "exposure_time_s": 1 / 15, "rating": 0},
    {"path": "harbour/c.jpg", "captured_at": None, "exposure_time_s": None, "rating": None},
]
THREE_AUDITED = [
    {
        "path": "harbour/a.jpg", "trip": "Harbour week", "body": "one", "lens": "orla-50", "adapter": "m42-plain",
        "setting_mm": 50.0, "right_setting_mm": 50.0, "setting_verdict": "right", "kept": True,
    },
    {
        "path": "harbour/b.jpg", "trip": "Harbour week", "body": "one", "lens": "orla-50", "adapter": "m42-reducer",
        "setting_mm": 50.0, "right_setting_mm": 35.5, "setting_verdict": "too-long", "kept": False,
        "setting_cause": "adapter-factor-left-out", "stops_lost": 3.2, "blur_probability": 0.8,
        "flags": ["setting-too-long", "shake-likely"],
    },
    {"path": "harbour/c.jpg", "setting_verdict": "unknown", "flags": ["time-impossible", "unreadable"]},
]  # fmt: skip


def three_row_desk() -> Desk:
    return desk_of(frames_table(THREE_FRAMES), audit_table(THREE_AUDITED), KIT)


def empty_desk() -> Desk:
    return desk_of(FRAMES.empty_table(), AUDIT.empty_table())


def season_tables(count: int, seed: int = 7) -> tuple[pa.Table, pa.Table]:
    """Four trips of an invented season; the second has a forgotten setting."""
    dice = np.random.default_rng(seed)
    trips = ["Harbour week", "Moor in the rain", "Market day", "Cousin's wedding"]
    starts = np.array(["2026-05-01", "2026-06-12", "2026-07-25", "2026-09-05"], dtype="datetime64[us]")
    trip = np.sort(dice.integers(0, 4, count))
    taken = (
        starts[trip]
        + (dice.integers(0, 3, count) * 86_400_000_000)
        + dice.integers(8 * 3600, 20 * 3600, count) * 1_000_000
    )
    order = np.lexsort((taken, trip))
    trip, taken = trip[order], taken[order]
    lenses = np.array(["orla-50", "hale-85", "brook-28", "tern-135", "wide-zoom", None], dtype=object)
    factor = np.array([0.71, 1.0, 1.0, 1.0, 1.0, np.nan])
    focal = np.array([50.0, 85.0, 28.0, 135.0, 24.0, np.nan])
    lens = dice.integers(0, 6, 60)[np.arange(count) * 60 // max(count, 1)]
    right = focal[lens] * factor[lens]
    forgotten = (trip == 1) & (lens == 0)
    slipped = np.repeat(dice.random(-(-count // 7)) < 0.05, 7)[:count]
    typed = np.where(
        forgotten, 50.0, np.where(slipped, right * np.repeat(dice.choice([0.4, 1.8], -(-count // 7)), 7)[:count], right)
    )
    verdict = np.where(np.isnan(right), "unknown", np.where(np.abs(typed / right - 1) < 0.1, "right",
                       np.where(typed > right, "too-long", "too-short"))).astype(object)  # fmt: skip
    verdict[lens == 4] = "not-needed"
    wrong = np.isin(verdict, ["too-long", "too-short"])
    lost = np.where(wrong, np.round(np.abs(np.log2(typed / right)) * 3, 2), 0.0)
    exposure = 2.0 ** -dice.integers(2, 10, count)
    blur = np.clip(exposure * right / 6 * 2**lost * 0.2, 0, 0.98)
    flags = [
        [f"setting-{v}"] * (v in {"too-long", "too-short"})
        + ["shake-likely"] * int(b > 0.5)
        + ["pairing-unknown"] * (v == "unknown")
        for v, b in zip(verdict, blur, strict=True)
    ]
    none_if_nan = lambda values: pa.array(values, mask=np.isnan(values))  # noqa: E731
    path = [f"2026/{t}/P{i:07d}.JPG" for i, t in enumerate(trip)]
    frames = {
        "archive": pa.array(["main"] * count), "path": pa.array(path), "captured_at": pa.array(taken),
        "exposure_time_s": pa.array(exposure),
        "f_number": none_if_nan(np.where(lens == 4, 2.0 ** (dice.integers(2, 7, count) / 2), np.nan)),
        "problem": pa.array(np.where(np.arange(count) % 97 == 3, "the file is cut short", None)),
        "rating": pa.array(dice.integers(0, 4, count).astype(np.int8)),
    }  # fmt: skip
    kept = np.where(trip == 3, None, dice.random(count) < 0.42 - 0.3 * np.nan_to_num(blur))
    audit = {
        "archive": frames["archive"], "path": frames["path"], "trip": pa.array(np.array(trips, dtype=object)[trip]),
        "body": pa.array(np.where(lens == 2, "two", "one").astype(object)),
        "lens": pa.array(lenses[lens]),
        "adapter": pa.array(np.array(["m42-reducer", "m42-plain", "", "m42-plain", "", None], dtype=object)[lens]),
        "pairing_confidence": pa.array(np.where(lens == 5, 0.0, 0.93)),
        "setting_mm": none_if_nan(typed), "right_setting_mm": none_if_nan(right), "setting_verdict": pa.array(verdict),
        "setting_cause": pa.array(np.where(forgotten, "adapter-factor-left-out", np.where(wrong, "unexplained", None))),
        "stops_lost": none_if_nan(lost), "blur_probability": none_if_nan(blur),
        "flags": pa.array(flags, pa.list_(pa.string())),
        "blur_verdict": pa.array(np.where(blur > 0.5, "likely", "unlikely").astype(object)),
        "kept": pa.array(kept, pa.bool_()),
    }  # fmt: skip
    return _filled(frames, FRAMES, count), _filled(audit, AUDIT, count)


def _filled(columns: dict[str, pa.Array], schema: pa.Schema, count: int) -> pa.Table:
    return pa.table(
        {f.name: columns[f.name].cast(f.type) if f.name in columns else pa.nulls(count, f.type) for f in schema},
        schema=schema,
    )


def season_measures(frames: pa.Table, seed: int = 11) -> pa.Table:
    """Nine frames in ten, in another order than the frames."""
    dice = np.random.default_rng(seed)
    measured = np.flatnonzero(dice.random(len(frames)) < 0.9)[::-1]
    kinds = dice.choice(["sharp", "shake", "missed-focus", "subject-moved", "unknown"], len(measured),
                        p=[0.7, 0.1, 0.08, 0.02, 0.1])  # fmt: skip
    rows = frames.select(["archive", "path"]).take(measured).append_column("blur_kind", pa.array(kinds.tolist()))
    return _filled({name: rows[name].combine_chunks() for name in rows.column_names}, MEASURES, len(rows))


def season_desk(count: int = 614, *, measured: bool = False) -> Desk:
    frames, audit = season_tables(count)
    desk = desk_of(frames, audit, KIT)
    if not measured:
        return desk
    measures = measures_beside(frames, season_measures(frames).select(list(MEASURED)))
    return dataclasses.replace(desk, measures=measures)
