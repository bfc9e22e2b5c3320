"""What limited each frame: shake, subject, focus, diffraction or pixels."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from auditor.constants import GREEN_UM
from auditor.model.kit import Kit
from auditor.optics.arrays import FloatArray, floats
from auditor.optics.mtf import mtf50_lp_mm
from auditor.optics.sensors import pixel_pitch_um
from auditor.shake.budget import CAUSES, SUBJECT_SPEEDS_M_S, BlurBudget, Causes, blur_budget, blur_widths

__all__ = ["FOCUS_ERROR_PERCENT", "add_blur_budget", "blur_causes"]

FOCUS_ERROR_PERCENT = 1.0
"""By how much of its distance a manually focused subject is taken to be off. A judgement. [%]"""

_NARROWEST = 16.0  # an aperture that was not noted lies between the lens's widest and this


def add_blur_budget(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """
    Add what limited each frame, and how fine it can show.

    Parameters
    ----------
    frames : DataFrame
        Audited frames with their log: ``body``, ``lens``, ``adapter``, ``right_setting_mm``, ``magnification``,
        ``shake_blur_um``, ``exposure_time_s``, ``f_number``, ``logged_aperture``, ``subject``, the picture's size.
    kit : Kit

    Returns
    -------
    DataFrame
        Same rows, same order, with ``limiting_cause`` (of `auditor.shake.budget.CAUSES`; null where it is not known or
        depends on what was not noted), ``mtf50_low_lp_mm``, ``mtf50_high_lp_mm`` and ``mtf50_low_cycles_px``,
        ``mtf50_high_cycles_px``.

    Notes
    -----
    An aperture that was not noted is a range, from the lens's widest to f/16; the cause is named where both ends agree.
    A distance that was not noted is taken as far, where focus costs least: then focus is not blamed.
    """
    ends = [_budget(frames, kit, aperture) for aperture in _apertures(frames, kit)]
    together = np.stack([end.together_lp_mm for end in ends])
    cycles = np.stack([end.together_cycles_px for end in ends])
    worst = [np.array(CAUSES, dtype=object)[end.ranking[0]] for end in ends]
    agreed = (worst[0] == worst[1]) & ~np.isnan(together).any(axis=0)
    return frames.assign(
        limiting_cause=pd.Series(np.where(agreed, worst[0], None), index=frames.index, dtype="str"),
        mtf50_low_lp_mm=together.min(axis=0),
        mtf50_high_lp_mm=together.max(axis=0),
        mtf50_low_cycles_px=cycles.min(axis=0),
        mtf50_high_cycles_px=cycles.max(axis=0),
    )


def blur_causes(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """
    Tell the causes of blur of one frame apart.

    Parameters
    ----------
    frames : DataFrame
        One row, as for `add_blur_budget`.
    kit : Kit

    Returns
    -------
    DataFrame
        One row a cause, in the order of `auditor.shake.budget.CAUSES`: ``cause``; ``width_low_um``, ``width_high_um``,
        what it is wide on the sensor (of diffraction the Airy disc); ``mtf50_low_lp_mm``, ``mtf50_high_lp_mm``, what it
        would leave by itself; ``smear_low_um``, ``smear_high_um``, the straight smear that would leave as much. NaN
        where it is not known; low and high differ where the aperture was not noted.
    """
    ends = [_widths(frames, kit, aperture) for aperture in _apertures(frames, kit)]
    # The Airy disc's diameter to its first dark ring, 2.44 λN: standard.
    widths = np.array(
        [[e.shake_um[0], e.subject_um[0], e.disc_um[0], 2.44 * GREEN_UM * e.f_number[0], e.pixel_um[0]] for e in ends]
    )
    alone = np.stack([blur_budget(end).alone_lp_mm[:, 0] for end in ends])
    smears = mtf50_lp_mm("motion", 1.0) / alone  # a smear's MTF50 goes with 1 ÷ its length
    table: dict[str, object] = {"cause": list(CAUSES)}
    for name, values in (("width", widths), ("mtf50", alone), ("smear", smears)):
        unit = "lp_mm" if name == "mtf50" else "um"
        table[f"{name}_low_{unit}"], table[f"{name}_high_{unit}"] = values.min(axis=0), values.max(axis=0)
    return pd.DataFrame(table)


def _column(frames: pd.DataFrame, name: str) -> FloatArray:
    return floats(frames[name].to_numpy(np.float64, na_value=np.nan))


def _mapped(frames: pd.DataFrame, name: str, values: dict[str, float]) -> FloatArray:
    return floats(frames[name].map(values).astype("float64").to_numpy(np.float64))


def _factors(frames: pd.DataFrame, kit: Kit) -> FloatArray:
    known = {adapter.id: adapter.factor for adapter in kit.adapters}
    chains = {
        chain: float(np.prod([known.get(part, np.nan) for part in chain.split("+")])) if chain else 1.0
        for chain in frames["adapter"].dropna().unique()
    }
    return _mapped(frames, "adapter", chains)


def _apertures(frames: pd.DataFrame, kit: Kit) -> tuple[FloatArray, FloatArray]:
    """Effective f-number, widest and narrowest it may have been."""
    factor = _factors(frames, kit)
    # A chip in the adapter or lens reports the f-number that counts; the ring's is the lens's alone.
    recorded = _column(frames, "f_number")
    noted = np.where(np.isnan(recorded), _column(frames, "logged_aperture") * factor, recorded)
    widest = _mapped(frames, "lens", {lens.id: lens.max_aperture for lens in kit.lenses if lens.max_aperture})
    unknown = np.isnan(noted)
    return (
        floats(np.where(unknown, widest * factor, noted)),
        floats(np.where(unknown, _NARROWEST * factor, noted)),
    )


def _speed(subject: object) -> float:
    if not isinstance(subject, str):
        return 0.0
    return SUBJECT_SPEEDS_M_S[subject] if subject in SUBJECT_SPEEDS_M_S else float(subject)


def _budget(frames: pd.DataFrame, kit: Kit, f_number: npt.NDArray[np.float64]) -> BlurBudget:
    return blur_budget(_widths(frames, kit, f_number))


def _widths(frames: pd.DataFrame, kit: Kit, f_number: npt.NDArray[np.float64]) -> Causes:
    magnification = np.nan_to_num(_column(frames, "magnification"))
    sides = frames[["image_width_px", "image_height_px"]].to_numpy(np.float64, na_value=np.nan)
    longest = _mapped(frames, "body", {body.id: max(body.sensor_mm) for body in kit.bodies if body.sensor_mm})
    return blur_widths(
        _column(frames, "shake_blur_um"),
        subject_speed_m_s=floats([_speed(subject) for subject in frames["subject"].tolist()]),
        exposure_time_s=_column(frames, "exposure_time_s"),
        magnification=magnification,
        lens=(_column(frames, "right_setting_mm") / (1.0 + magnification), f_number, FOCUS_ERROR_PERCENT),
        pixel_um=pixel_pitch_um(longest, sides.max(axis=1)),
    )
