"""What limited a frame: small table, and in words."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
import pandas as pd

from auditor.pipeline.limiting import FrameLimits, frame_limits
from dashboards.desk import Desk
from dashboards.thumbnails import place_of

__all__ = ["CAUSES_OF_BLUR", "IN_SHORT", "limits_csv", "limits_in_words", "limits_of", "limits_table"]

CAUSES_OF_BLUR: Mapping[str, str] = MappingProxyType(
    {
        "shake": "Shake",
        "subject": "Subject's motion",
        "focus": "Focus off by 1 % of the distance",
        "diffraction": "Diffraction",
        "pixels": "Pixels",
    }
)
"""Causes of `auditor.shake.budget`, as a page says them."""

IN_SHORT: Mapping[str, str] = MappingProxyType(
    {"shake": "Shake", "subject": "Subject", "focus": "Focus", "diffraction": "Diffraction", "pixels": "Pixels"}
)
"""The same beside a bar, where there is little room."""

_TAKEN = MappingProxyType(
    {
        "aperture": "the aperture was not noted: from the lens's widest to f/16",
        "distance": "no distance was noted: taken as far, so focus is not blamed",
        "subject": "the subject was not noted: taken as still",
    }
)

_COLUMNS = ("body", "lens", "adapter", "subject_distance_m", "exposure_time_s", "f_number", "shake_blur_px")


def limits_of(desk: Desk, place: int) -> FrameLimits | None:
    """Return what limited a frame of the desk; None without a workspace or where its body or lens is not known."""
    frame = desk.frames.iloc[[place]]
    if desk.workspace is None or frame[["body", "lens", "adapter"]].isna().any(axis=None):
        return None
    plain = frame[[*_COLUMNS]].astype(dict.fromkeys(("body", "lens", "adapter"), "str"))
    sides = {side: frame[side].to_numpy(np.float64, na_value=np.nan) for side in ("image_width_px", "image_height_px")}
    return frame_limits(desk.workspace, plain.assign(at=frame["captured_at"], **sides))


def limits_table(limits: FrameLimits) -> pd.DataFrame:
    """Return the causes in words, each with its width, what it leaves by itself, and the smear that does the same."""
    causes = limits.causes
    return pd.DataFrame(
        {
            "Cause": [CAUSES_OF_BLUR[cause] for cause in causes["cause"]],
            "As wide on the sensor as": _ranges(causes, "width", "um", "µm"),
            "Leaves by itself": _ranges(causes, "mtf50", "lp_mm", "lp/mm"),
            "As a smear of": _ranges(causes, "smear", "um", "µm"),
        }
    )


def _ranges(causes: pd.DataFrame, name: str, unit: str, said: str) -> list[str]:
    ends = zip(causes[f"{name}_low_{unit}"], causes[f"{name}_high_{unit}"], strict=True)
    return [_range(low, high, said) for low, high in ends]


def _range(low: float, high: float, unit: str) -> str:
    if np.isposinf(low):
        return "no limit"
    if not np.isfinite(low):
        return "not known"
    if np.isposinf(high):
        return f"{_short(low)} {unit} or more"
    return f"{_short(low)} {unit}" if _short(low) == _short(high) else f"{_short(low)} to {_short(high)} {unit}"


def _short(value: float) -> str:
    return f"{value:.0f}" if value >= 20 else f"{value:.1f}"


def limits_in_words(limits: FrameLimits) -> list[str]:
    """Say what limited a frame, what is left, and what was taken for granted."""
    told = []
    smear = dict(zip(limits.causes["cause"], limits.causes["smear_high_um"], strict=True))
    if limits.limiting is None:
        known = any(np.isfinite(value) for value in smear.values())
        told.append("What limited it most depends on what was not noted." if known else "What limited it is not known.")
    else:
        width = smear[limits.limiting]
        pixels = f", {width / limits.pixel_um:.1f} pixels" if np.isfinite(limits.pixel_um) else ""
        named = CAUSES_OF_BLUR[limits.limiting]
        told.append(
            f"{named} limited it most: by itself it blurs like a smear of {_range(width, width, 'µm')}{pixels}."
        )
    if np.isfinite(limits.mtf50_low_lp_mm):
        left = _range(limits.mtf50_low_lp_mm, limits.mtf50_high_lp_mm, "line pairs per mm")
        cycles = f"{limits.mtf50_low_cycles_px:.2f}"
        if f"{limits.mtf50_high_cycles_px:.2f}" != cycles:
            cycles += f" to {limits.mtf50_high_cycles_px:.2f}"
        told.append(f"All together they leave half the contrast at {left}, {cycles} cycles a pixel of at most 0.5.")
    taken = [_TAKEN[name] for name in limits.not_noted]
    if taken:
        told.append(f"Here {'; '.join(taken)}.")
    return told


def limits_csv(desk: Desk, rest: Mapping[str, str]) -> pd.DataFrame:
    """Return what limited the frame that an address names, to take away."""
    place = place_of(desk, rest.get("at", ""))
    limits = limits_of(desk, place) if place is not None else None
    if limits is None:
        return pd.DataFrame(columns=["cause"])
    return limits.causes.assign(limiting=limits.causes["cause"] == limits.limiting)
