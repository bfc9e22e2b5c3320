"""What turning and moving the camera does to the image, at the centre and towards the edge."""

from __future__ import annotations

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = ["off_axis_factor", "off_axis_stops_cap", "pivot_setting_mm", "translation_share"]


def pivot_setting_mm(focal_mm: ArrayLike, magnification: ArrayLike, pivot_mm: ArrayLike) -> FloatLike:
    """
    Image shift per radian when the camera turns about a point behind the lens.

    Parameters
    ----------
    focal_mm : float or array
        Focal length, adapter factor included. [mm]
    magnification : float or array
        Image size ÷ subject size. [-]
    pivot_mm : float or array
        Distance of the pivot behind the front principal plane; minus the subject distance is the subject. [mm]

    Returns
    -------
    float or array
        f (1 + m) + m L, broadcast. [mm per rad]

    Notes
    -----
    The m L part is movement of the camera that happens to be coupled to its turn; a stabiliser with gyroscopes only
    cannot know L, so what it needs is f (1 + m). Valid for small angles and subjects in focus.

    References
    ----------
    .. [1] Derived from the thin lens equations; vanishes for a pivot at the subject, as it must.

    Examples
    --------
    >>> round(pivot_setting_mm(100.0, 0.1, 150.0), 6)
    125.0
    """
    scale = floats(magnification)
    return plain(positive(focal_mm) * (1.0 + scale) + scale * floats(pivot_mm))


def translation_share(
    magnification: ArrayLike, shift_mm: ArrayLike, focal_mm: ArrayLike, turn_mrad: ArrayLike
) -> FloatLike:
    """
    Blur from moving the camera sideways over blur from turning it.

    Parameters
    ----------
    magnification : float or array
        Image size ÷ subject size. [-]
    shift_mm : float or array
        Sideways movement during the exposure. [mm]
    focal_mm : float or array
        Focal length. [mm]
    turn_mrad : float or array
        Turn during the exposure. [mrad]

    Returns
    -------
    float or array
        m / (1 + m) · Y / (f θ), broadcast. [-]

    Notes
    -----
    Valid for small angles. With Y/θ = f it is 9 % at m = 0.1 and 33 % at 0.5: below 0.1 it may be left out.

    References
    ----------
    .. [1] Derived. That it "becomes significant at higher image magnifications" is said in US 9,386,225 B2.

    Examples
    --------
    >>> round(translation_share(0.5, 0.1, 100.0, 1.0), 4)
    0.3333
    """
    scale = floats(magnification)
    turn_mm = positive(focal_mm) * positive(turn_mrad) / 1000.0
    return plain(scale / (1.0 + scale) * floats(shift_mm) / turn_mm)


def off_axis_factor(offset_mm: ArrayLike, image_distance_mm: ArrayLike) -> FloatLike:
    """
    How much faster the image moves off the axis, along the radius, than at the centre.

    Parameters
    ----------
    offset_mm : float or array
        Distance from the picture's centre on the sensor. [mm]
    image_distance_mm : float or array
        Image distance v. [mm]

    Returns
    -------
    float or array
        1 + (x/v)², broadcast. [-]

    Notes
    -----
    d(v tan α)/dα = v sec² α. Valid for a rectilinear lens.

    References
    ----------
    .. [1] Derived; that the edge moves more than the centre is stated in EP 4 468 063 A2, para 0002.

    Examples
    --------
    >>> off_axis_factor(18.0, 24.0)
    1.5625
    """
    return plain(1.0 + (floats(offset_mm) / positive(image_distance_mm)) ** 2)


def off_axis_stops_cap(offset_mm: ArrayLike, image_distance_mm: ArrayLike) -> FloatLike:
    """
    Most stops that a stabiliser which is perfect at the centre can give at a point off the axis.

    Parameters
    ----------
    offset_mm : float or array
        Distance from the picture's centre on the sensor. [mm]
    image_distance_mm : float or array
        Image distance v. [mm]

    Returns
    -------
    float or array
        -log2((x/v)²), broadcast; infinite at the centre. [stop]

    Notes
    -----
    Valid for a rectilinear lens and blur that grows in proportion to time. Sharpness of a setting test is therefore
    judged near the centre.

    References
    ----------
    .. [1] Derived from the same relation as `off_axis_factor`.

    Examples
    --------
    >>> round(off_axis_stops_cap(18.0, 50.0), 3)
    2.948
    """
    left_over = np.asarray(off_axis_factor(offset_mm, image_distance_mm)) - 1.0
    with np.errstate(divide="ignore"):
        return plain(-np.log2(left_over))
