"""
Audit a million made-up frames: ``python -m tests.benchmarks.audit.million [FRAMES]``.

Prints how long the audit takes beside reading the same frames' Parquet file in the same run, and the memory it peaks
at. Target: less than a minute for a million on two cores.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from auditor.model.log import parse_log
from auditor.model.settings import Settings
from auditor.model.tables import FRAMES
from auditor.pipeline.auditing import audit_frames, summarise, to_frame
from tests.kits import small_kit

SECONDS_BETWEEN = 12


def made_up(frames: int, seed: int = 5) -> pa.Table:
    """Frames of one body over years, its typed value changing now and then, a third with a rating."""
    rng = np.random.default_rng(seed)
    columns = {field.name: pa.nulls(frames, field.type) for field in FRAMES}
    runs = np.cumsum(rng.random(frames) < 1 / 40)
    typed = rng.choice([50.0, 85.0, 36.0, 60.0, 35.0, 70.0, 100.0], runs[-1] + 1)[runs]
    start = np.datetime64("2020-05-01T08:00", "us")
    columns |= {
        "archive": pa.array(["main"] * frames),
        "path": pa.array([f"{number // 500:05d}/{number:08d}.jpg" for number in range(frames)]),
        "format": pa.array(["jpeg"] * frames),
        "model": pa.array(["Silverline 2"] * frames),
        "captured_at": pa.array(start + (np.arange(frames) * SECONDS_BETWEEN * 1_000_000).astype("m8[us]")),
        "focal_length_mm": pa.array(typed),
        "exposure_time_s": pa.array(rng.choice([1 / 500, 1 / 60, 1 / 8], frames)),
        "image_width_px": pa.array(np.full(frames, 5184, np.int32)),
        "image_height_px": pa.array(np.full(frames, 3888, np.int32)),
        "rating": pa.array(rng.integers(0, 3, frames), pa.int8()),
    }
    return pa.table({name: columns[name] for name in FRAMES.names}, schema=FRAMES)


def log_text(frames: int) -> str:
    """A row every three hours or so."""
    start = np.datetime64("2020-05-01T08:00", "s")
    hours = frames * SECONDS_BETWEEN // 3600
    lines = ["start,body,lens,adapter"]
    for number in range(0, hours, 3):
        lens, adapter = ("orla-50", "hale-85")[number % 2], ("m42-plain", "m42-reducer")[number % 5 == 0]
        lines.append(f"{start + np.timedelta64(number, 'h')},one,{lens},{adapter}")
    return "\n".join(lines)


def main(frames: int) -> None:
    """Measure and print."""
    kit = small_kit()
    table = made_up(frames)
    log = parse_log(log_text(frames), kit).rows
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "frames.parquet"
        pq.write_table(table, path)
        del table
        began = time.process_time()
        rows = to_frame(pq.read_table(path))
        read_s = time.process_time() - began
    began, wall = time.process_time(), time.perf_counter()
    audited = audit_frames(rows, kit, log, Settings())
    audit_s, wall_s = time.process_time() - began, time.perf_counter() - wall
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{frames:,} frames, {len(log)} rows of log: {summarise(audited)}")
    print(f"audit {audit_s:.1f} s of processor, {wall_s:.1f} s by the clock, {audit_s / read_s:.1f} x reading")
    print(f"memory at its peak: {peak_mb:.0f} MB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
