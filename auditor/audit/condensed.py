"""The audit boiled down: of each frame only what the ledger, fair comparison and the plan need, small and quick."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.audit.bursts import find_bursts
from auditor.audit.groupings import GROUPINGS, group_of
from auditor.model.kit import Body, Kit
from auditor.model.settings import Settings, Tolerance
from auditor.optics.arrays import floats
from auditor.optics.sensors import circle_of_confusion_um, crop_factor, diagonal_mm
from auditor.shake.stabiliser import residual_floor

__all__ = ["CONDENSED", "condense"]

Floats = npt.NDArray[np.float64]

CONDENSED: Mapping[str, str] = {
    **dict.fromkeys(GROUPINGS, "category"),
    "adapter": "category",
    "support": "category",
    "setting_verdict": "category",
    "setting_cause": "category",
    "kept": "int8",
    "burst": "int32",
    "frame": "int32",
    "year": "float32",
    "difficulty_stops": "float32",
    "light_ev": "float32",
    "is_stabilised": "bool",
    "stops_lost": "float32",
    "effective_focal_mm": "float32",
    "used_f_number": "float32",
    "distance_m": "float32",
    "shake_um": "float32",
    "residual": "float32",
    "residual_floor": "float32",
    "tolerated_um": "float32",
}
"""
Columns and their kinds.

The groupings; ``kept`` 1, 0, or -1 for never judged; ``burst`` its number; ``frame`` its place among the audited ones;
``year`` with the part of it that had passed; ``difficulty_stops`` log2(exposure time × right setting × crop), in stops
above 1 s at 1 mm; ``light_ev`` the scene's EV at ISO 100; ``stops_lost`` to the setting, 0 where none was needed;
``shake_um`` per axis without a stabiliser; ``residual`` as it was and ``residual_floor`` as it would have been at the
right setting.
"""

_FAR_M = 1000.0  # what was focused at infinity counts as so far, where distances are ranked

_MEDIAN_OVER_SIGMA = float(np.sqrt(2.0 * np.log(2.0)))  # of a Rayleigh length


def condense(audited: pd.DataFrame, kit: Kit, settings: Settings) -> pd.DataFrame:
    """
    Boil an audit down to the columns of :data:`CONDENSED`.

    Parameters
    ----------
    audited : DataFrame
        What the audit's steps made: columns of frames, audit and log side by side.
    kit, settings
        The photographer's files: sensors, stabilisers, tolerated blur, pause inside a burst.

    Returns
    -------
    DataFrame
        Same frames, in order of burst, so that the frames of one lie together.
    """
    rows = pd.DataFrame({by: group_of(audited, by).astype("category") for by in GROUPINGS})
    for column in ("adapter", "setting_verdict", "setting_cause"):
        rows[column] = audited[column].astype("category")
    rows["support"] = audited["support"].fillna("hand").astype("category")
    rows["kept"] = audited["kept"].astype("boolean").astype("Int8").fillna(-1).astype(np.int8)
    rows["burst"] = find_bursts(audited, settings.plan.burst_pause_s)
    rows["frame"] = np.arange(len(audited), dtype=np.int32)
    rows["year"] = _year(audited["captured_at"])
    rows["is_stabilised"] = audited["is_stabilised"].to_numpy(bool)
    for name, values in {**_conditions(audited, kit), **_shake(audited, kit, settings)}.items():
        rows[name] = values
    return rows[list(CONDENSED)].astype(dict(CONDENSED)).sort_values("burst", kind="stable").reset_index(drop=True)


def _conditions(audited: pd.DataFrame, kit: Kit) -> dict[str, Floats]:
    """How hard the frame was and in what light, whatever the lens."""
    crop = _of_body(audited, kit, lambda body: float(crop_factor(*body.sensor_mm)) if body.sensor_mm else 1.0)
    time_s, reach_mm = _number(audited, "exposure_time_s"), _image_distance(audited, kit)
    f_number = audited["f_number"].fillna(audited["logged_aperture"]).to_numpy(np.float64)
    iso = _number(audited, "photographic_sensitivity")
    lost = np.where(audited["setting_verdict"] == "not-needed", 0.0, _number(audited, "stops_lost"))
    with np.errstate(invalid="ignore", divide="ignore"):
        return {
            "difficulty_stops": np.log2(np.where(time_s > 0, time_s, np.nan) * reach_mm * crop),
            "light_ev": np.log2(f_number**2 / np.where(time_s > 0, time_s, np.nan)) - np.log2(iso / 100.0),
            "stops_lost": lost,
            "effective_focal_mm": reach_mm,
            "used_f_number": f_number,
            "distance_m": np.minimum(_number(audited, "focus_distance_m"), _FAR_M),
        }


def _shake(audited: pd.DataFrame, kit: Kit, settings: Settings) -> dict[str, Floats]:
    """Shake without a stabiliser, what it left, and what it would have left."""
    left = _number(audited, "residual")
    stops = _of_body(audited, kit, lambda body: np.nan if body.stabiliser_stops is None else body.stabiliser_stops)
    floor = np.where(audited["is_stabilised"], floats(residual_floor(stops, settings.hand.exponent)), 1.0)
    blur_um = _number(audited, "shake_blur_um")
    with np.errstate(invalid="ignore", divide="ignore"):
        pitch_um = blur_um / _number(audited, "shake_blur_px")
        shake_um = blur_um / _MEDIAN_OVER_SIGMA / left
    return {
        "shake_um": shake_um,
        "residual": left,
        "residual_floor": floor,
        "tolerated_um": _tolerated_um(audited, kit, settings.tolerance, pitch_um),
    }


def _tolerated_um(audited: pd.DataFrame, kit: Kit, tolerance: Tolerance, pitch_um: Floats) -> Floats:
    if tolerance.blur_px is not None:
        return tolerance.blur_px * pitch_um
    if tolerance.blur_um is not None:
        return np.full(len(audited), tolerance.blur_um)

    def of_print(body: Body) -> float:
        if body.sensor_mm is None:
            return np.nan
        return float(circle_of_confusion_um(diagonal_mm(*body.sensor_mm), tolerance.blur_diagonal_fraction))

    return _of_body(audited, kit, of_print)


def _image_distance(audited: pd.DataFrame, kit: Kit) -> Floats:
    """Return the image-side distance: the right setting without the body's gain, or what a lens recorded. [mm]."""
    gain = _of_body(audited, kit, lambda body: body.stabiliser_gain)
    typed = _number(audited, "right_setting_mm") * gain
    return np.where(audited["has_contacts"].to_numpy(bool), _number(audited, "focal_length_mm"), typed)


def _of_body(audited: pd.DataFrame, kit: Kit, value: Callable[[Body], float]) -> Floats:
    return floats(audited["body"].map({body.id: value(body) for body in kit.bodies}).astype("float64").to_numpy())


def _number(audited: pd.DataFrame, column: str) -> Floats:
    return floats(audited[column].to_numpy(np.float64, na_value=np.nan))


def _year(at: pd.Series) -> Floats:
    return floats((at.dt.year + (at.dt.day_of_year - 1) / 365.25).to_numpy(np.float64, na_value=np.nan))
