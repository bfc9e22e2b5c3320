from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.condensed import CONDENSED, condense
from auditor.model.kit import parse_kit
from auditor.model.log import parse_log
from auditor.model.settings import parse_settings
from auditor.pipeline.auditing import audit_frames
from tests.kits import KIT_TEXT, small_kit, some_frames

HEAD = "start,body,lens,adapter,support,stabiliser,focus_distance_m,focal_mm,aperture\n"
LOG = "2026-05-02 10:00,one,hale-85,m42-plain,,,1e9,,2.8"


def condensed(log: str = LOG, settings: str = "", kit_text: str = KIT_TEXT, **frame: object) -> pd.Series:
    row = {"captured_at": "2026-05-02 10:30", "focal_length_mm": 85.0, "exposure_time_s": 1 / 64, **frame}
    kit, made = parse_kit(kit_text), parse_settings(settings)
    audited = audit_frames(some_frames([row]), kit, parse_log(HEAD + log, kit).rows, made)
    rows = condense(audited, kit, made)
    assert list(rows.columns) == list(CONDENSED)
    return rows.iloc[0]


def test_difficulty_is_exposure_time_times_right_setting_times_crop_in_stops() -> None:
    # By hand: log2(1/64 x 85 x crop); the crop of 17.4 x 13.0 is 43.27 / 21.72 = 1.992.
    found = condensed()
    assert found.difficulty_stops == pytest.approx(np.log2(85 / 64 * 1.992), abs=1e-3)
    assert (found.lens, found.pairing, found.focal, found.support) == (
        "hale-85",
        "hale-85 + m42-plain",
        "70-105 mm",
        "hand",
    )
    assert (found.aperture, found.exposure, found.time) == ("f/2.8", "1/60 s", "2026-05")
    assert found.year == pytest.approx(2026 + 121 / 365.25, abs=1e-3)


def test_light_is_the_scene_s_ev_at_iso_100() -> None:
    # By hand: f/2.8, 1/64 s, ISO 400: log2(2.8^2 x 64) - 2.
    assert condensed(photographic_sensitivity=400).light_ev == pytest.approx(np.log2(2.8**2 * 64) - 2, abs=1e-3)
    assert np.isnan(condensed().light_ev)


def test_shake_is_what_it_would_be_without_a_stabiliser_and_the_floor_what_the_right_setting_leaves() -> None:
    # Derived: sigma = v a (t / t0)^H; 85 mm, 0.29 mrad, 1/60 s: 24.65 um. Floor 2^(-0.8 x 5) = 1/16.
    right = condensed(exposure_time_s=1 / 60)
    assert right.shake_um == pytest.approx(85 * 0.29, rel=1e-3)
    assert right.residual_floor == pytest.approx(1 / 16)
    wrong = condensed(exposure_time_s=1 / 60, focal_length_mm=50.0)
    assert wrong.shake_um == pytest.approx(right.shake_um)
    assert wrong.residual == pytest.approx(np.hypot(1 - 50 / 85, 1 / 16), rel=1e-5)
    assert (right.stops_lost, wrong.stops_lost > 3) == (pytest.approx(0.0, abs=0.01), True)


@pytest.mark.parametrize(
    ("settings", "tolerated"),
    [
        ("", 21.72 / 1500 * 1000),
        ("[tolerance]\nblur_um = 9.0", 9.0),
        ("[tolerance]\nblur_px = 2.0", 2 * 17.4 / 5184 * 1000),
    ],
)
def test_what_is_tolerated_follows_the_settings(settings: str, tolerated: float) -> None:
    found = condensed(settings=settings, image_width_px=5184, image_height_px=3888)
    assert found.tolerated_um == pytest.approx(tolerated, rel=1e-3)


def test_a_stabiliser_that_was_off_leaves_everything_and_loses_nothing_to_a_setting() -> None:
    found = condensed(log=LOG.replace(",,,1e9", ",tripod,off,1e9"))
    assert (found.is_stabilised, found.residual_floor, found.stops_lost, found.support) == (False, 1.0, 0.0, "tripod")


def test_a_body_without_a_sensor_size_keeps_its_difficulty_without_crop() -> None:
    bare = condensed(kit_text=KIT_TEXT.replace("sensor_mm = [17.4, 13.0]\n", ""))
    assert bare.difficulty_stops == pytest.approx(np.log2(85 / 64), abs=1e-3)
    assert np.isnan(bare.tolerated_um)


def test_frames_come_in_order_of_burst_and_unjudged_ones_are_marked() -> None:
    kit, settings = small_kit(), parse_settings("")
    rows = [
        {"captured_at": f"2026-05-02 10:{minute}:{second}", "focal_length_mm": 85.0, "rating": 1}
        for minute, second in ((30, "00"), (20, "00"), (30, "01"), (20, "01"))
    ] + [{"captured_at": "2026-07-02 10:00:00", "focal_length_mm": 85.0}]
    audited = audit_frames(some_frames(rows), kit, parse_log(HEAD + LOG, kit).rows, settings)
    found = condense(audited, kit, settings)
    assert found["burst"].tolist() == [0, 0, 1, 1, 2]
    assert found["kept"].tolist() == [1, 1, 1, 1, -1]
