"""What limited each frame."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from auditor.audit.calibration_budget import add_blur_budget
from tests.kits import small_kit

USUAL = {
    "body": "one", "lens": "orla-50", "adapter": "m42-plain", "right_setting_mm": 50.0, "magnification": np.nan,
    "shake_blur_um": 2.0, "exposure_time_s": 1 / 60, "f_number": np.nan, "logged_aperture": 4.0, "subject": None,
    "image_width_px": 5184, "image_height_px": 3888,
}  # fmt: skip


def _budget(*rows: dict) -> pd.DataFrame:
    text = {"body": "str", "lens": "str", "adapter": "str", "subject": "str"}
    return add_blur_budget(pd.DataFrame([{**USUAL, **row} for row in rows]).astype(text), small_kit())


def test_what_limited_the_frame():
    found = _budget(
        {"shake_blur_um": 40.0},
        {"subject": "walking", "magnification": 0.02},
        {"subject": "3.0", "magnification": 0.02},
        {"logged_aperture": 1.4, "magnification": 0.1},
        {"logged_aperture": 22.0},
        {"logged_aperture": 2.0, "subject": "still"},
    )
    assert found["limiting_cause"].tolist() == ["shake", "subject", "subject", "focus", "diffraction", "pixels"]
    assert (found["mtf50_low_lp_mm"] == found["mtf50_high_lp_mm"]).all()
    # Pixel pitch 17.4 mm / 5184 = 3.356 µm.
    assert found["mtf50_low_cycles_px"].tolist() == pytest.approx(list(found["mtf50_low_lp_mm"] * 0.003356), rel=1e-3)


def test_an_aperture_that_was_not_noted_is_a_range():
    found = _budget({"logged_aperture": np.nan, "shake_blur_um": 60.0}, {"logged_aperture": np.nan})
    assert found["limiting_cause"].tolist()[0] == "shake"
    assert pd.isna(found["limiting_cause"].iloc[1]), "pixels wide open, diffraction at f/16: not known which"
    assert (found["mtf50_low_lp_mm"] < found["mtf50_high_lp_mm"]).all()


def test_a_reducer_opens_the_aperture():
    plain, reduced = _budget({"logged_aperture": 22.0}, {"logged_aperture": 22.0, "adapter": "m42-reducer"})[
        "mtf50_low_lp_mm"
    ]
    assert reduced > plain


def test_what_is_not_known_is_not_blamed():
    found = _budget({"shake_blur_um": np.nan}, {"lens": None, "logged_aperture": np.nan}, {"adapter": "nobody-s"})
    assert found["limiting_cause"].isna().all()
