"""Expected shake blur of each frame, and how likely it passes what is tolerated."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.model.kit import Kit
from auditor.model.settings import Settings, Tolerance
from auditor.optics.arrays import floats
from auditor.optics.sensors import circle_of_confusion_um, diagonal_mm, pixel_pitch_um
from auditor.shake.hand import blur_probability, image_shake_um, shake_blur_um, shake_sigma_mrad

__all__ = ["SUPPORT_SHAKE", "add_shake_blur"]

SUPPORT_SHAKE: Mapping[str, float] = {"hand": 1.0, "braced": 0.5, "monopod": 0.35, "tripod": 0.05}
"""Shake on a support, as a share of that by hand. Judgement: no measured figure was found."""

Floats = npt.NDArray[np.float64]


def add_shake_blur(frames: pd.DataFrame, kit: Kit, settings: Settings) -> pd.DataFrame:
    """
    Add ``shake_blur_um``, ``shake_blur_px``, ``blur_probability`` and ``blur_verdict``.

    Parameters
    ----------
    frames : DataFrame
        With ``exposure_time_s``, ``residual``, ``right_setting_mm``, ``focal_length_mm``, ``has_contacts``,
        ``support``, ``body`` and the picture's size.
    kit, settings
        The photographer's files: sensor sizes, the hand's shake, the tolerated blur.

    Returns
    -------
    DataFrame
        Same rows, same order. Where the support was not noted the camera is taken to be hand-held. The verdict is
        ``likely`` above one half, ``unlikely`` up to it, ``unknown`` where something needed is not known.
    """
    hand = settings.hand
    support = floats(frames["support"].fillna("hand").map(SUPPORT_SHAKE).to_numpy(np.float64))
    sigma_mrad = floats(shake_sigma_mrad(_column(frames, "exposure_time_s"), hand.shake_mrad, hand.exponent))
    sigma_um = floats(image_shake_um(_image_distance(frames, kit), sigma_mrad * support, _column(frames, "residual")))
    pitch = _pitch_um(frames, kit)
    tolerated = _tolerance_um(frames, kit, settings.tolerance, pitch)
    probability = floats(blur_probability(tolerated, sigma_um, hand.spread_stops))
    blur_um = floats(shake_blur_um(sigma_um))
    verdict = np.select([np.isnan(probability), probability > 0.5], ["unknown", "likely"], default="unlikely")
    return frames.assign(
        shake_blur_um=blur_um,
        shake_blur_px=blur_um / pitch,
        blur_probability=probability,
        blur_verdict=pd.Series(verdict, index=frames.index, dtype="str"),
    )


def _column(frames: pd.DataFrame, name: str) -> Floats:
    return frames[name].to_numpy(np.float64)


def _by_body(frames: pd.DataFrame, values: Mapping[str, float]) -> Floats:
    return floats(frames["body"].map(values).astype("float64").to_numpy(np.float64))


def _image_distance(frames: pd.DataFrame, kit: Kit) -> Floats:
    """Return v: the right setting without the body's gain; for a lens with contacts what it recorded. [mm]."""
    gain = _by_body(frames, {body.id: body.stabiliser_gain for body in kit.bodies})
    typed = _column(frames, "right_setting_mm") * gain
    return floats(np.where(frames["has_contacts"].to_numpy(bool), _column(frames, "focal_length_mm"), typed))


def _pitch_um(frames: pd.DataFrame, kit: Kit) -> Floats:
    """Pixel pitch from the sensor's long side and the picture's. [µm]."""
    sides = frames[["image_width_px", "image_height_px"]].to_numpy(np.float64, na_value=np.nan)
    longest = _by_body(frames, {body.id: max(body.sensor_mm) for body in kit.bodies if body.sensor_mm})
    return floats(pixel_pitch_um(longest, sides.max(axis=1)))


def _tolerance_um(frames: pd.DataFrame, kit: Kit, tolerance: Tolerance, pitch_um: Floats) -> Floats:
    if tolerance.blur_px is not None:
        return tolerance.blur_px * pitch_um
    if tolerance.blur_um is not None:
        return np.full(len(frames), tolerance.blur_um)
    return _by_body(
        frames, {body.id: _print_tolerance(body.sensor_mm, tolerance) for body in kit.bodies if body.sensor_mm}
    )


def _print_tolerance(sensor_mm: tuple[float, float], tolerance: Tolerance) -> float:
    return float(circle_of_confusion_um(diagonal_mm(*sensor_mm), tolerance.blur_diagonal_fraction))
