"""
How often a simulated setting test of 11 settings × 6 frames finds the best setting within 3 %.

Run by hand: ``python -m tests.benchmarks.calibration.setting_test [runs]``. Invented: a 50 mm lens whose true setting
lies 5 % (SD) from the predicted one, hands that shake more or less by a factor of 1.6, half a stop of spread from frame
to frame, 2.2 px of blur from lens and pixels, 8 % error of measurement.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from auditor.constants import RAYLEIGH_MEDIAN
from auditor.shake.setting_test import SettingReading, plan_setting_test, read_setting_test
from auditor.shake.stabiliser import residual

PREDICTED_MM = 50.0
PITCH_UM = 3.4
TOLERANCE_UM = 14.43


def one(rng: np.random.Generator, stops: float, exponent: float, kind: str) -> tuple[float, SettingReading]:
    true_mm = PREDICTED_MM * float(np.exp(rng.normal(0.0, 0.05)))
    plan = plan_setting_test(PREDICTED_MM, 1 / 4, floor=2.0 ** (-exponent * stops), seed=int(rng.integers(1 << 30)))
    settings = np.array([frame.setting_mm for frame in plan])
    settings = settings[~np.isnan(settings)]
    unstabilised_px = 12.0 * TOLERANCE_UM / PITCH_UM * 2.0 ** rng.normal(0.0, 0.7)
    left = np.asarray(residual(settings, true_mm, stops, exponent=exponent))
    steadiness = 2.0 ** rng.normal(0.0, 0.5, settings.size)
    shake_px = rng.rayleigh(unstabilised_px / RAYLEIGH_MEDIAN * left * steadiness)
    width_px = np.hypot(2.2, shake_px) * np.exp(rng.normal(0.0, 0.08, settings.size))
    if kind == "width":
        return true_mm, read_setting_test(settings, width_px, predicted_mm=PREDICTED_MM)
    rating = np.clip(np.round(5.0 - 1.3 * np.log2(width_px / 2.2)), 0.0, 5.0)
    return true_mm, read_setting_test(settings, rating, predicted_mm=PREDICTED_MM, kind="score")


def main(runs: int) -> None:
    for kind in ("width", "score"):
        for stops, exponent in ((3.0, 0.8), (4.0, 0.8), (5.0, 0.8), (5.0, 1.0), (6.5, 0.8)):
            rng = np.random.default_rng(20261124)
            start = time.perf_counter()
            found = [one(rng, stops, exponent, kind) for _ in range(runs)]
            each_ms = 1000 * (time.perf_counter() - start) / runs
            within = np.mean([abs(reading.best_mm / true - 1.0) <= 0.03 for true, reading in found])
            held = np.mean([reading.low_mm <= true <= reading.high_mm for true, reading in found])
            told = np.mean([reading.told for _, reading in found])
            print(
                f"{kind:5} {stops} stops, H {exponent}: within 3 % {within:.0%}, 90 % interval holds {held:.0%}, "
                f"told {told:.0%}, {each_ms:.0f} ms a test",
                flush=True,
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
