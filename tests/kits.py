"""A small kit and frames for it, with values that stand for nothing but themselves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa

from auditor.model.kit import Kit, parse_kit
from auditor.model.tables import FRAMES
from auditor.pipeline.auditing import to_frame

KIT_TEXT = """
[[bodies]]
id = "one"
name = "Silver body"
exif_model = "Silverline 2"
sensor_mm = [17.4, 13.0]
mount = "MFT"
flange_mm = 19.25
stabiliser_stops = 5.0

[[bodies]]
id = "two"
name = "Black body"
exif_model = "Nightline 1"
exif_make = "Nightline"
sensor_mm = [36.0, 24.0]
mount = "NL"
stabiliser_stops = 5.0
setting_recorded_in = "lens-name"

[[lenses]]
id = "orla-50"
name = "Orla 50 mm f/1.4"
focal_mm = 50
max_aperture = 1.4
mount = "M42"
close_focus_m = 0.45
exif_names = ["ORLA50"]

[[lenses]]
id = "hale-85"
name = "Hale 85 mm f/2"
focal_mm = 85
mount = "M42"
close_focus_m = 0.9
exif_names = ["HALE85"]

[[lenses]]
id = "pell-35-70"
name = "Pell 35-70 mm"
focal_mm = [35, 70]
mount = "M42"
close_focus_m = 0.7

[[lenses]]
id = "vesper-25"
name = "Vesper 25 mm"
focal_mm = 25
mount = "MFT"
contacts = true
exif_names = ["VESPER 25mm F1.8"]

[[adapters]]
id = "m42-plain"
name = "M42 plain"
lens_mount = "M42"
body_mount = "MFT"

[[adapters]]
id = "m42-reducer"
name = "M42 reducer 0.71x"
lens_mount = "M42"
body_mount = "MFT"
factor = 0.71

[[adapters]]
id = "m42-nl"
name = "M42 to NL"
lens_mount = "M42"
body_mount = "NL"

[[adapters]]
id = "m42-tube-10"
name = "M42 tube 10 mm"
lens_mount = "M42"
body_mount = "M42"
extension_mm = 10.0
"""


def small_kit() -> Kit:
    return parse_kit(KIT_TEXT)


def some_frames(rows: Sequence[Mapping[str, Any]], **same: Any) -> pd.DataFrame:
    """Frames with the given columns; the others are not known, but for a plain readable file of body one."""
    usual: dict[str, Any] = {
        "archive": "main",
        "format": "jpeg",
        "model": "Silverline 2",
        "exposure_time_s": 1 / 60,
        "image_width_px": 5184,
        "image_height_px": 3888,
    }
    filled = []
    for number, row in enumerate(rows):
        whole = {"path": f"{number:05d}.jpg", **usual, **same, **row}
        if isinstance(whole.get("captured_at"), str):
            whole["captured_at"] = np.datetime64(whole["captured_at"], "us")
        filled.append({name: whole.get(name) for name in FRAMES.names})
    table = pa.table(
        {field.name: pa.array([row[field.name] for row in filled], field.type) for field in FRAMES},
        schema=FRAMES,
    )
    return to_frame(table)
