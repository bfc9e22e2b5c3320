"""What limited a frame: each cause of blur by itself, all together, and which weighs most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from auditor.constants import GREEN_UM
from auditor.optics.arrays import ArrayLike, FloatArray, floats, positive
from auditor.optics.diffraction import working_f_number
from auditor.optics.exposure import subject_motion_um
from auditor.optics.mtf import combined_mtf50_lp_mm, mtf50_lp_mm

__all__ = ["CAUSES", "SUBJECT_SPEEDS_M_S", "BlurBudget", "Causes", "blur_budget", "blur_widths", "left_for_shake_um"]

CAUSES = ("shake", "subject", "focus", "diffraction", "pixels")
"""In this order wherever they stand side by side."""

SUBJECT_SPEEDS_M_S = {"still": 0.0, "walking": 1.4, "running": 3.5}
"""Speed across the line of sight, the worst case. Walking: common practice; running: a judgement. [m/s]"""


@dataclass(frozen=True)
class Causes:
    """
    Width that each cause has on the sensor, shape (n,) each.

    Attributes
    ----------
    shake_um, subject_um : array
        Length of the smear. [µm]
    disc_um : array
        Diameter of the defocus disc. [µm]
    f_number : array
        Working f-number. [-]
    pixel_um : array
        Pixel pitch. [µm]
    """

    shake_um: FloatArray
    subject_um: FloatArray
    disc_um: FloatArray
    f_number: FloatArray
    pixel_um: FloatArray


@dataclass(frozen=True)
class BlurBudget:
    """
    What limited each frame.

    Attributes
    ----------
    alone_lp_mm : array, shape (causes, n)
        MTF50 of each cause by itself, in the order of `CAUSES`. [lp/mm]
    together_lp_mm : array, shape (n,)
        MTF50 of all. [lp/mm]
    together_cycles_px : array, shape (n,)
        The same, in cycles a pixel; 0.5 is the most that pixels can show. [cycles/px]
    ranking : int array, shape (causes, n)
        Indices into `CAUSES`, worst first.
    """

    alone_lp_mm: FloatArray
    together_lp_mm: FloatArray
    together_cycles_px: FloatArray
    ranking: npt.NDArray[np.intp]

    def limiting(self, place: int) -> str:
        """Name the worst cause of one frame; empty where something is not known."""
        return "" if np.isnan(self.together_lp_mm[place]) else CAUSES[int(self.ranking[0, place])]


def blur_widths(
    shake_um: ArrayLike,
    *,
    subject_speed_m_s: ArrayLike = 0.0,
    exposure_time_s: ArrayLike = 1.0,
    magnification: ArrayLike = 0.0,
    lens: tuple[ArrayLike, ArrayLike, ArrayLike] = (50.0, 8.0, 1.0),
    pixel_um: ArrayLike = 4.0,
) -> Causes:
    """
    Width of each cause on the sensor, from what a frame and its log say.

    Parameters
    ----------
    shake_um : float or array
        Shake blur. [µm]
    subject_speed_m_s : float or array
        Speed of the subject across the line of sight. [m/s]
    exposure_time_s : float or array
        Exposure time. [s]
    magnification : float or array
        Image size ÷ subject size; 0 at infinity. [-]
    lens : (focal_mm, f_number, focus_error_percent)
        Focal length with the factor [mm], f-number with the factor [-], and by how much of its distance [%] the subject
        may be out of focus.
    pixel_um : float or array
        Pixel pitch. [µm]

    Returns
    -------
    Causes
        Broadcast; NaN where not known. [µm]

    Notes
    -----
    The defocus disc of a subject δ off its distance is (f/N) m δ/(1+δ). Valid for m below 0.3 and pupils of
    magnification 1; a focus error of 1 % is a judgement for a manual lens in a finder.

    References
    ----------
    .. [1] "Circle of confusion", Wikipedia, for the disc; "F-number", Wikipedia, for the working f-number.

    Examples
    --------
    >>> causes = blur_widths(10.0, lens=(50.0, 2.0, 1.0), magnification=0.02)
    >>> round(float(causes.disc_um), 1)
    5.0
    """
    focal_mm, f_number, focus_percent = lens
    scale = floats(magnification)
    off = floats(focus_percent) / 100.0
    disc = positive(focal_mm) / positive(f_number) * 1000.0 * scale * off / (1.0 + off)
    motion = subject_motion_um(subject_speed_m_s, exposure_time_s, scale)
    widths = np.broadcast_arrays(
        floats(shake_um), floats(motion), disc, floats(working_f_number(f_number, scale)), positive(pixel_um)
    )
    return Causes(*(floats(width) for width in widths))


def blur_budget(causes: Causes) -> BlurBudget:
    """
    Combine and rank the causes of blur.

    Parameters
    ----------
    causes : Causes
        Width of each. [µm]

    Returns
    -------
    BlurBudget
        MTF50 of each and of all [lp/mm, cycles/px]; NaN where one is not known.

    Notes
    -----
    Combined by the product of the transfer functions, ranked by their own MTF50 (the worst halves the contrast first).
    Valid in the direction of the smear and for causes that do not go together.

    References
    ----------
    .. [1] Convolution theorem; `auditor.optics.mtf`.

    Examples
    --------
    >>> budget = blur_budget(blur_widths([30.0, 1.0], lens=(50.0, 16.0, 0.0)))
    >>> budget.limiting(0), budget.limiting(1)
    ('shake', 'diffraction')
    """
    shake, subject, disc, aperture, pixel = np.atleast_1d(
        causes.shake_um, causes.subject_um, causes.disc_um, causes.f_number, causes.pixel_um
    )
    alone = np.stack(
        [
            floats(mtf50_lp_mm("motion", shake)),
            floats(mtf50_lp_mm("motion", subject)),
            floats(mtf50_lp_mm("defocus", disc)),
            floats(mtf50_lp_mm("diffraction", GREEN_UM * aperture)),
            floats(mtf50_lp_mm("motion", pixel)),
        ]
    )
    together = floats(
        combined_mtf50_lp_mm(shake_um=shake, subject_um=subject, disc_um=disc, f_number=aperture, pixel_um=pixel)
    )
    return BlurBudget(alone, together, together * pixel / 1000.0, np.argsort(alone, axis=0, kind="stable"))


def left_for_shake_um(tolerance_um: ArrayLike, other_um: ArrayLike) -> FloatArray:
    """
    Blur that shake may add where other causes already blur.

    Parameters
    ----------
    tolerance_um : float or array
        Tolerated blur in all. [µm]
    other_um : float or array
        Blur of the other causes. [µm]

    Returns
    -------
    array
        √(c² - other²), broadcast; 0 where the others alone use it up. [µm]

    Notes
    -----
    Valid as a guide: blurs of like shape add by their squares, to 10-12 %.

    References
    ----------
    .. [1] Variances add for independent causes (standard).

    Examples
    --------
    >>> float(left_for_shake_um(5.0, 3.0))
    4.0
    """
    return floats(np.sqrt(np.maximum(floats(tolerance_um) ** 2 - floats(other_um) ** 2, 0.0)))
