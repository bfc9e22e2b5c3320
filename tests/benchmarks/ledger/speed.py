"""
The ledger and the plan on many frames: ``python -m tests.benchmarks.ledger.speed [FRAMES]``.

A made-up condensed audit is written once; a fresh process then asks for groupings with filters, and another one once
three frames in four were measured. Printed beside each other: the first answer and the next ones, and the same count by
pandas alone on the same columns. Target for five million frames on two cores: first under 2 s, next under 0.3 s, memory
under 1.5 GB.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from auditor.audit.condensed import CONDENSED
from auditor.model.tables import MEASURES
from auditor.model.workspace import open_workspace
from auditor.pipeline.condensing import store_condensed
from auditor.pipeline.ledgers import comparisons_of, condensed_of, ledger_of
from auditor.pipeline.planning import plan_of
from auditor.pipeline.sharp_column import store_sharp_column
from auditor.storage.datasets import replace_table
from tests.kits import KIT_TEXT

GROUPS = {"lens": 12, "pairing": 24, "body": 3, "trip": 150, "focal": 9, "aperture": 9, "distance": 6, "time": 72,
          "exposure": 15, "adapter": 4}  # fmt: skip
ASKED = (
    ("lens", {}),
    ("pairing", {"body": "body-1"}),
    ("trip", {"lens": "lens-3"}),
    ("focal", {"exposure": "exposure-4", "body": "body-0"}),
    ("time", {}),
    ("aperture", {"lens": "lens-2", "trip": "trip-7"}),
    ("distance", {}),
)


def made_up(frames: int, seed: int = 3) -> pd.DataFrame:
    """Frames in bursts of one to six, of a dozen lenses on a hundred and fifty trips."""
    rng = np.random.default_rng(seed)
    burst = np.repeat(np.arange(frames // 2), rng.integers(1, 7, frames // 2))[:frames].astype(np.int32)
    frames = burst.size
    rows = {
        by: pd.Categorical.from_codes(rng.integers(0, size, burst[-1] + 1)[burst], [f"{by}-{n}" for n in range(size)])
        for by, size in GROUPS.items()
    }
    rows["trip"] = pd.Categorical.from_codes(
        (burst.astype(np.int64) * 150 // (burst[-1] + 1)), list(rows["trip"].categories)
    )
    hard = rng.normal(2.0, 1.6, burst[-1] + 1)[burst]
    lost = np.where(rng.random(burst[-1] + 1) < 0.1, 2.0, 0.0)[burst]
    kept = (rng.random(frames) < 1 / (1 + np.exp(0.7 * (hard - 3.0) + 0.6 * lost))).astype(np.int8)
    table = pd.DataFrame(rows).assign(
        support=pd.Categorical.from_codes(np.zeros(frames, int), ["hand"]),
        setting_verdict=pd.Categorical.from_codes((lost > 0).astype(int), ["right", "too-long"]),
        setting_cause=pd.Categorical.from_codes(np.where(lost > 0, 0, -1), ["carried-over"]),
        kept=np.where(rng.random(frames) < 0.1, -1, kept),
        burst=burst,
        frame=np.arange(frames, dtype=np.int32),
        year=2020.0 + burst / burst[-1] * 6.0,
        difficulty_stops=hard,
        light_ev=rng.normal(8.0, 3.0, frames),
        is_stabilised=True,
        stops_lost=lost,
        effective_focal_mm=np.array([20, 24, 28, 35, 50, 55, 85, 90, 105, 135, 200, 300.0])[rows["lens"].codes],
        used_f_number=2.8,
        distance_m=np.nan,
        shake_um=2.0 ** (hard - 1.0),
        residual=np.where(lost > 0, 0.2, 0.06),
        residual_floor=0.06,
        tolerated_um=14.4,
    )
    return table[list(CONDENSED)].astype(dict(CONDENSED))


def made_up_sharpness(kept: npt.NDArray[np.int8], seed: int = 4) -> npt.NDArray[np.int8]:
    """Of the frames three in four told, most of them sharp, more of those that were kept; the rest never measured."""
    rng = np.random.default_rng(seed)
    sharp = (rng.random(kept.size) < np.where(kept == 1, 0.95, 0.8)).astype(np.int8)
    return np.where(rng.random(kept.size) < 0.25, np.int8(-2), sharp)


def lay_out(folder: Path, frames: int) -> None:
    """Write a workspace that holds nothing but a condensed audit."""
    (folder / "kit.toml").write_text(KIT_TEXT)
    (folder / "settings.toml").write_text("")
    (folder / "log.csv").write_text("start,body,lens,adapter\n")
    store_condensed(open_workspace(folder), made_up(frames))


def add_sharpness(folder: Path) -> None:
    """Write what a run of measuring leaves beside it."""
    workspace = open_workspace(folder)
    row = {"archive": "main", "path": "one.jpg", "blur_kind": "sharp"}
    replace_table(workspace.store, "measures", pa.Table.from_pylist([row], schema=MEASURES))
    store_sharp_column(workspace, made_up_sharpness(condensed_of(workspace, ["kept"])["kept"].to_numpy(np.int8)))


def ask(folder: Path) -> None:
    """Ask in this fresh process and print what it took."""
    workspace = open_workspace(folder)
    for number in range(3):
        for by, only in ASKED:
            began = time.perf_counter()
            found = ledger_of(workspace, by, only=only)
            took = time.perf_counter() - began
            if number == 0 or number == 2:
                print(
                    f"{'first' if number == 0 else 'again'} {by:9} {only!s:50} {len(found.rows):4} rows {took:7.3f} s"
                )
    print(f"memory at its peak: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    columns = condensed_of(workspace, ["lens", "kept"])
    began = time.perf_counter()
    columns[columns["kept"] >= 0].groupby("lens", observed=True)["kept"].agg(["size", "sum"])
    print(f"pandas alone, two columns already in memory, by lens, no bursts: {time.perf_counter() - began:.3f} s")


def weigh(folder: Path) -> None:
    """Time the fair comparison and the plan in this fresh process."""
    workspace = open_workspace(folder)
    for name, call in (("fair", lambda: comparisons_of(workspace, "lens")), ("plan", lambda: plan_of(workspace))):
        began = time.perf_counter()
        call()
        print(f"{name}: {time.perf_counter() - began:.1f} s")
    print(f"memory at its peak: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def main(frames: int) -> None:
    """Lay out, then ask in processes of their own."""
    with tempfile.TemporaryDirectory() as text:
        began = time.perf_counter()
        subprocess.run([sys.executable, "-m", __spec__.name, "lay-out", text, str(frames)], check=True)
        size = sum(file.stat().st_size for file in Path(text).rglob("*") if file.is_file())
        print(f"{frames:,} frames laid out in {time.perf_counter() - began:.0f} s, {size / 1e6:.0f} MB")
        for what in ("ask", "add-sharpness", "ask", "weigh"):
            print(what)
            subprocess.run([sys.executable, "-m", __spec__.name, what, text], check=True, env=dict(os.environ))


if __name__ == "__main__":
    if sys.argv[1:2] == ["lay-out"]:
        lay_out(Path(sys.argv[2]), int(sys.argv[3]))
    elif sys.argv[1:2] in (["ask"], ["add-sharpness"], ["weigh"]):
        {"ask": ask, "add-sharpness": add_sharpness, "weigh": weigh}[sys.argv[1]](Path(sys.argv[2]))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 5_000_000)
