"""Constants of the field, each with its unit and where it comes from."""

from __future__ import annotations

import math

__all__ = [
    "BLUR_DIAGONAL_FRACTION",
    "EARTH_RADIUS_KM",
    "EARTH_ROTATION_RAD_S",
    "FULL_FRAME_DIAGONAL_MM",
    "FULL_FRAME_MM",
    "GREEN_UM",
    "HANDHELD_BLUR_THRESHOLD_UM",
    "HAND_EXPONENT",
    "HAND_SHAKE_MRAD",
    "HAND_SPREAD_STOPS",
    "MAGNIFICATION_LIMIT",
    "MAGNIFICATION_WARNING",
    "RAYLEIGH_MEDIAN",
    "REFERENCE_TIME_S",
    "SETTING_TOLERANCE_PERCENT",
]

FULL_FRAME_MM = (36.0, 24.0)
"""Width and height of the 35 mm frame, the reference of crop factors. [mm]"""

FULL_FRAME_DIAGONAL_MM = math.hypot(*FULL_FRAME_MM)
"""Diagonal of the 35 mm frame, 43.27. [mm]"""

GREEN_UM = 0.55
"""Wavelength at the middle of the visible range, where diffraction is quoted (common practice). [µm]"""

REFERENCE_TIME_S = 1 / 60
"""t0 of the hand-shake law a·(t/t0)^H. [s]"""

HAND_SHAKE_MRAD = 0.29
"""Per-axis shake at 1/60 s when nothing is known: 1 °/s, ×/÷2. A judgement, not a measurement. [mrad]"""

HAND_EXPONENT = 0.8
"""How shake grows with exposure time when nothing is known, ±0.15. A judgement. [-]"""

HAND_SPREAD_STOPS = 0.5
"""How much steadiness differs from frame to frame when nothing is known, ×/÷1.5. A judgement. [stop]"""

RAYLEIGH_MEDIAN = math.sqrt(2 * math.log(2))
"""Median of a Rayleigh-distributed length over its per-axis sigma, 1.1774. [-]"""

EARTH_RADIUS_KM = 6371.0
"""Mean radius of the earth (IUGG, from the axes of GRS 80: 6371.009 km). [km]"""

EARTH_ROTATION_RAD_S = 7.27e-5
"""Turn of the earth, which a gyroscope takes for shake (2 π over a sidereal day). [rad/s]"""

HANDHELD_BLUR_THRESHOLD_UM = 63.0
"""Motion in the focal plane of a 35 mm frame that counts as blur: AS ISO 20954.1:2019, clause 3.5. [µm]"""

BLUR_DIAGONAL_FRACTION = 1500.0
"""Tolerated blur is the sensor diagonal over this: the "modern" print-viewing convention (common practice). [-]"""

SETTING_TOLERANCE_PERCENT = 10.0
"""A setting within this of the right one is called right (common practice; the user can set it). [%]"""

MAGNIFICATION_WARNING = 0.1
"""Above this, moving the camera sideways is no longer small against turning it (9 % at 0.1). [-]"""

MAGNIFICATION_LIMIT = 0.3
"""Above this, shake is not predicted from rotation alone. [-]"""
