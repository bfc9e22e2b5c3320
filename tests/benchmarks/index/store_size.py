"""
Bytes a frame in the store, for rows that differ as a photographer's do.

    python -m tests.benchmarks.index.store_size [FRAMES]

No frame is read: seeded rows of three bodies and eight lenses, bursts and pauses, every second frame with a companion.
Target: at most 120.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow as pa

from auditor.model.tables import FRAMES
from auditor.storage.compaction import compacted
from auditor.storage.datasets import Manifest, commit, load_manifest, remove_unnamed, write_part

PART_ROWS = 8192


def rows(first: int, count: int, dice: np.random.Generator) -> pa.Table:
    """Return some frames in the order in which they were made."""
    number = np.arange(first, first + count)
    body, lens = (number // 3000) % 3, dice.integers(0, 8, count)
    seconds = np.cumsum(np.where(dice.random(count) < 0.6, 0.2, dice.exponential(40, count))) + first * 20.0
    name = [f"2026/day{day:04}/P{at:07}" for day, at in zip(number // 300, number, strict=True)]
    zoom = dice.choice([14.0, 25.0, 35.0, 50.0, 85.0, 135.0], count)
    columns = {
        "archive": ["main"] * count,
        "path": [f"{stem}.ORF" for stem in name],
        "size": dice.integers(14_000_000, 19_000_000, count),
        "mtime_ns": ((1.75e9 + seconds) // 1 * 1e9).astype(np.int64),
        "format": ["orf"] * count,
        "companion": [f"{stem}.JPG" if at % 2 else None for stem, at in zip(name, number, strict=True)],
        "make": ["Silverline"] * count,
        "model": [f"Silverline {kind}" for kind in body],
        "body_serial_number": [f"BX{kind:05}" for kind in body],
        "lens_model": [f"Orla {kind} mm" if kind > 2 else None for kind in lens],
        "lens_serial_number": [f"L{kind:06}" if kind > 2 else None for kind in lens],
        "captured_at": ((1.75e9 + seconds) * 1e6).astype(np.int64),
        "offset_minutes": [120] * count,
        "exposure_time_s": 1 / dice.choice([30.0, 60, 125, 200, 250, 320, 500, 1000], count),
        "f_number": dice.choice([1.4, 1.8, 2.0, 2.8, 4.0, 5.6, 8.0], count),
        "focal_length_mm": zoom,
        "focal_length_35mm_mm": zoom * 2,
        "photographic_sensitivity": dice.choice([200, 320, 400, 640, 800, 1600, 3200], count),
        "image_width_px": [5184] * count,
        "image_height_px": [3888] * count,
        "orientation": dice.choice([1, 6, 8], count, p=[0.7, 0.2, 0.1]),
        "flash_fired": dice.random(count) < 0.02,
        "stabiliser_mode": ["on"] * count,
        "drive_mode": dice.choice(["single", "continuous"], count),
        "rating": dice.choice([0, 1, 3, 5], count, p=[0.7, 0.15, 0.1, 0.05]),
    }
    arrays = []
    for field in FRAMES:
        values = columns.get(field.name)
        stored = pa.int64() if field.name == "captured_at" else field.type
        made = pa.nulls(count, field.type) if values is None else pa.array(values, stored).cast(field.type)
        arrays.append(made)
    return pa.table(arrays, schema=FRAMES)


def main() -> None:
    """Write as the index does, compact, and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    dice = np.random.default_rng(20260502)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for first in range(0, count, PART_ROWS):
            part = write_part(folder, rows(first, min(PART_ROWS, count - first), dice), FRAMES)
            commit(folder, Manifest((*load_manifest(folder).parts, part)))
        manifest = compacted(folder, load_manifest(folder), FRAMES)
        commit(folder, manifest)
        remove_unnamed(folder, manifest)
        size = sum(file.stat().st_size for file in folder.iterdir())
        print(f"{manifest.rows} frames in {len(manifest.parts)} parts: {size / manifest.rows:.1f} bytes a frame")


if __name__ == "__main__":
    main()
