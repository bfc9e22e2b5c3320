"""Sizes of sensors and of the pictures on them."""

from __future__ import annotations

import numpy as np

from auditor.constants import BLUR_DIAGONAL_FRACTION, FULL_FRAME_DIAGONAL_MM
from auditor.optics.arrays import ArrayLike, FloatLike, plain, positive

__all__ = ["circle_of_confusion_um", "crop_factor", "diagonal_mm", "equivalent_focal_mm", "pixel_pitch_um"]


def diagonal_mm(width_mm: ArrayLike, height_mm: ArrayLike) -> FloatLike:
    """
    Diagonal of a sensor.

    Parameters
    ----------
    width_mm, height_mm : float or array
        Sides of the sensor. [mm]

    Returns
    -------
    float or array
        Diagonal, broadcast; NaN where a side is not known. [mm]

    Notes
    -----
    Valid for any rectangle; nominal sides err by 1-2 % because the area in use differs.

    References
    ----------
    .. [1] Pythagoras.

    Examples
    --------
    >>> round(diagonal_mm(17.3, 13.0), 2)
    21.64
    """
    return plain(np.hypot(positive(width_mm), positive(height_mm)))


def crop_factor(width_mm: ArrayLike, height_mm: ArrayLike) -> FloatLike:
    """
    Diagonal of the 35 mm frame over the diagonal of a sensor.

    Parameters
    ----------
    width_mm, height_mm : float or array
        Sides of the sensor. [mm]

    Returns
    -------
    float or array
        Crop factor, broadcast; 1 for 36 × 24 mm. [-]

    Notes
    -----
    Valid by diagonals; by width it differs for other aspect ratios (common practice is the diagonal).

    References
    ----------
    .. [1] Ratio of diagonals (common practice).

    Examples
    --------
    >>> round(crop_factor(23.5, 15.6), 2)
    1.53
    """
    return plain(FULL_FRAME_DIAGONAL_MM / np.asarray(diagonal_mm(width_mm, height_mm)))


def equivalent_focal_mm(focal_mm: ArrayLike, crop: ArrayLike) -> FloatLike:
    """
    Focal length that gives the same angle of view on the 35 mm frame.

    Parameters
    ----------
    focal_mm : float or array
        Focal length, adapter factor included. [mm]
    crop : float or array
        Crop factor of the body. [-]

    Returns
    -------
    float or array
        f × crop, broadcast. [mm]

    Notes
    -----
    Valid at infinity, by diagonals. A stabiliser wants the true focal length, not this one.

    References
    ----------
    .. [1] Ratio of diagonals (common practice).

    Examples
    --------
    >>> equivalent_focal_mm(50.0, 2.0)
    100.0
    """
    return plain(positive(focal_mm) * positive(crop))


def pixel_pitch_um(width_mm: ArrayLike, width_px: ArrayLike) -> FloatLike:
    """
    Distance between pixels on the sensor.

    Parameters
    ----------
    width_mm : float or array
        Width of the sensor. [mm]
    width_px : float or array
        Columns of the full, native picture. [px]

    Returns
    -------
    float or array
        Pixel pitch, broadcast. [µm]

    Notes
    -----
    Valid for native columns, not for a resized or cropped picture.

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    >>> pixel_pitch_um(36.0, 6000)
    6.0
    """
    return plain(positive(width_mm) * 1000.0 / positive(width_px))


def circle_of_confusion_um(diagonal: ArrayLike, fraction: ArrayLike = BLUR_DIAGONAL_FRACTION) -> FloatLike:
    """
    Blur that a print-viewing convention tolerates.

    Parameters
    ----------
    diagonal : float or array
        Diagonal of the sensor. [mm]
    fraction : float or array
        1000 traditional, 1500 modern, 1730 historic. [-]

    Returns
    -------
    float or array
        diagonal ÷ fraction, broadcast. [µm]

    Notes
    -----
    Valid for prints seen from their diagonal's distance; at 100 % on a screen 1.5-2 pixels are stricter.

    References
    ----------
    .. [1] "Zeiss formula", Wikipedia: d/1000 and d/1500 as conventions, d/1730 from 0.025 mm on the 35 mm frame.

    Examples
    --------
    >>> round(circle_of_confusion_um(43.27), 2)
    28.85
    """
    return plain(positive(diagonal) * 1000.0 / positive(fraction))
