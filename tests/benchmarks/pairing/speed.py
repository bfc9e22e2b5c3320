"""
Time and memory of the sequence model on a million frames and sixty pairings. Run by hand::

    python -m tests.benchmarks.pairing.speed [FRAMES]
"""

from __future__ import annotations

import dataclasses
import resource
import sys
import time

import numpy as np
import pandas as pd

from auditor.audit.evidence import add_evidence
from auditor.audit.sequence.pairings import pair_frames
from auditor.audit.trips import add_trip
from auditor.model.kit import Adapter, Body, Kit, Lens
from auditor.model.settings import Settings
from tests.benchmarks.pairing.photographer import World, make_world

ONCE = 40_000


def large_kit() -> Kit:
    """Thirty lenses, a plain adapter and a reducer: sixty pairings."""
    body = Body(
        id="one", name="One", exif_model="Silverline 1", sensor_mm=(17.4, 13.0), mount="MFT", stabiliser_stops=5.0
    )
    lenses = [
        Lens(
            id=f"orla-{mm}",
            name=f"Orla {mm}",
            focal_mm=(float(mm), float(mm)),
            mount="M42",
            close_focus_m=0.01 * mm + 0.2,
        )
        for mm in np.unique(np.geomspace(15, 400, 30).round().astype(int)).tolist()
    ]
    adapters = [
        Adapter(id=f"m42-{name}", name=name, lens_mount="M42", body_mount="MFT", factor=factor)
        for name, factor in (("plain", 1.0), ("reducer", 0.71))
    ]
    return Kit(bodies=(body,), lenses=tuple(lenses), adapters=tuple(adapters))


def archive(frames: int) -> World:
    """One simulated archive repeated over the years, so that making it does not take longer than reading it."""
    once = make_world(1, large_kit(), coverage=0.75, trips=20, frames=ONCE)
    copies = -(-frames // len(once.frames))
    shifts = [pd.Timedelta(days=400 * number) for number in range(copies)]
    parts = [once.frames.assign(captured_at=once.frames["captured_at"] + shift) for shift in shifts]
    table = pd.concat(parts, ignore_index=True).head(frames)
    table["path"] = [f"{number}.jpg" for number in range(len(table))]
    log = tuple(
        dataclasses.replace(row, start=row.start + shift.to_pytimedelta()) for shift in shifts for row in once.log
    )
    return dataclasses.replace(once, frames=table, log=log)


def main() -> None:
    world = archive(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
    settings = Settings()
    evidence = add_trip(add_evidence(world.frames, world.kit, world.log, settings), settings.trips)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    wall, cpu = time.perf_counter(), time.process_time()
    found = pair_frames(evidence, world.kit, world.log, settings)
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"{len(found.frames):,} frames, {len(world.log):,} log rows: {wall:.1f} s, {cpu:.1f} s of CPU,", end=" ")
    print(f"{after / 1e6:.2f} GB at most ({before / 1e6:.2f} GB before)")


if __name__ == "__main__":
    main()
