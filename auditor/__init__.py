"""
Steadykeep: which manual lens made each frame, and whether the stabiliser was told its focal length.

For notebooks and scripts; what is listed here stays, what is not may change. Nothing heavy is loaded until it is used.

>>> import auditor
>>> auditor.right_setting_mm(50.0, 0.25)  # a 50 mm lens at a magnification of 1:4
62.5
>>> auditor.through_factor(50.0, 0.71)  # the same lens behind a 0.71× reducer
35.5
>>> round(auditor.residual(35.0, 50.0, 5.0), 2)  # 35 mm typed, 50 mm needed: the share of the shake that is left
0.3
>>> [round(end, 3) for end in auditor.wilson(81, 263)]  # 81 keepers of 263
[0.255, 0.366]

``auditor.open_workspace("~/steadykeep")`` opens a workspace, ``auditor.read_joined(workspace)`` is everything known of
each frame as a DataFrame; `auditor.api` tells the rest by an example.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from auditor.api import (
        audit_workspace,
        describe,
        index_workspace,
        ledger,
        open_workspace,
        read_audit,
        read_frames,
        read_joined,
        read_measures,
        read_overlaps,
        sample_workspace,
    )
    from auditor.errors import SteadykeepError
    from auditor.optics.adapters import through_factor
    from auditor.optics.depth_of_field import far_limit_m, hyperfocal_m, near_limit_m
    from auditor.optics.diffraction import airy_diameter_um, diffraction_f_number
    from auditor.optics.geometry import magnification_from_distance, right_setting_at_mm, right_setting_mm
    from auditor.optics.sensors import crop_factor, equivalent_focal_mm
    from auditor.shake.bursts import frames_for_chance
    from auditor.shake.hand import blur_probability, exposure_time_for_sharp_s, shake_blur_um, sharp_probability
    from auditor.shake.stabiliser import residual, setting_tolerance, stops_left, stops_lost
    from auditor.stats.intervals import wilson

__version__ = "0.1.0"

__all__ = [
    "SteadykeepError",
    "airy_diameter_um",
    "audit_workspace",
    "blur_probability",
    "crop_factor",
    "describe",
    "diffraction_f_number",
    "equivalent_focal_mm",
    "exposure_time_for_sharp_s",
    "far_limit_m",
    "frames_for_chance",
    "hyperfocal_m",
    "index_workspace",
    "ledger",
    "magnification_from_distance",
    "near_limit_m",
    "open_workspace",
    "read_audit",
    "read_frames",
    "read_joined",
    "read_measures",
    "read_overlaps",
    "residual",
    "right_setting_at_mm",
    "right_setting_mm",
    "sample_workspace",
    "setting_tolerance",
    "shake_blur_um",
    "sharp_probability",
    "stops_left",
    "stops_lost",
    "through_factor",
    "wilson",
]

_ROOMS = (
    "auditor.errors",
    "auditor.optics.adapters",
    "auditor.optics.depth_of_field",
    "auditor.optics.diffraction",
    "auditor.optics.geometry",
    "auditor.optics.sensors",
    "auditor.shake.bursts",
    "auditor.shake.hand",
    "auditor.shake.stabiliser",
    "auditor.stats.intervals",
    "auditor.api",
)
"""Where the public names live, the quick to load first."""


def __getattr__(name: str) -> Any:
    if name in __all__:
        for room in _ROOMS:
            module = importlib.import_module(room)
            if name in module.__all__:
                globals()[name] = found = getattr(module, name)
                return found
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
