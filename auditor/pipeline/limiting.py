"""What limited one frame, from what is known of it, without reading the store."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from auditor.audit.calibration_budget import add_blur_budget, blur_causes
from auditor.audit.evidence import add_log_notes, log_rows_in_force
from auditor.audit.pairing import possible_pairings
from auditor.audit.right_setting import add_right_setting
from auditor.model.workspace import Workspace
from auditor.optics.sensors import pixel_pitch_um

__all__ = ["FrameLimits", "frame_limits"]


@dataclass(frozen=True)
class FrameLimits:
    """
    What limited a frame.

    Parameters
    ----------
    causes : DataFrame
        As of `auditor.audit.calibration_budget.blur_causes`.
    limiting : str or None
        The worst cause; None where that is not known or depends on what was not noted.
    mtf50_low_lp_mm, mtf50_high_lp_mm, mtf50_low_cycles_px, mtf50_high_cycles_px : float
        What all causes together leave; NaN where it is not known.
    pixel_um : float
        Pixel pitch; NaN where it is not known. [µm]
    not_noted : tuple of str
        What had to be taken for granted: aperture, distance, subject.
    """

    causes: pd.DataFrame
    limiting: str | None
    mtf50_low_lp_mm: float
    mtf50_high_lp_mm: float
    mtf50_low_cycles_px: float
    mtf50_high_cycles_px: float
    pixel_um: float
    not_noted: tuple[str, ...]


def frame_limits(workspace: Workspace, frame: pd.DataFrame) -> FrameLimits:
    """
    Return what limited a frame.

    Parameters
    ----------
    workspace : Workspace
        For the kit and the log.
    frame : DataFrame
        One row: ``body``, ``lens``, ``adapter``, ``at`` (after clock corrections), ``subject_distance_m``,
        ``exposure_time_s``, ``f_number``, ``shake_blur_px``, ``image_width_px``, ``image_height_px``.

    Returns
    -------
    FrameLimits
    """
    kit, log = workspace.kit, workspace.log.rows
    known = frame.assign(log_row=log_rows_in_force(frame, log))
    known = add_right_setting(add_log_notes(known, log), possible_pairings(kit, log))
    longest = {body.id: max(body.sensor_mm) for body in kit.bodies if body.sensor_mm}
    sides = known[["image_width_px", "image_height_px"]].to_numpy(np.float64, na_value=np.nan)
    pitch = pixel_pitch_um(known["body"].map(longest).to_numpy(np.float64), sides.max(axis=1))
    known["shake_blur_um"] = known["shake_blur_px"].to_numpy(np.float64) * pitch
    budget = add_blur_budget(known, kit).iloc[0]
    missing = {
        "aperture": known[["f_number", "logged_aperture"]].isna().all(axis=1),
        "distance": known["magnification"].isna(),
        "subject": known["subject"].isna(),
    }
    cause = budget["limiting_cause"]
    ends = {name: float(budget[name]) for name in FrameLimits.__annotations__ if name.startswith("mtf50")}
    return FrameLimits(
        causes=blur_causes(known, kit),
        limiting=cause if isinstance(cause, str) else None,
        pixel_um=float(np.ravel(pitch)[0]),
        not_noted=tuple(name for name, absent in missing.items() if absent.iloc[0]),
        **ends,
    )
