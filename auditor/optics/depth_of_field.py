"""Depth of field and defocus of a thin lens."""

from __future__ import annotations

import numpy as np

from auditor.optics.arrays import ArrayLike, FloatArray, FloatLike, floats, plain, positive

__all__ = ["defocus_disc_um", "far_limit_m", "focus_error_disc_um", "hyperfocal_m", "near_limit_m"]


def _lengths_mm(focal_mm: ArrayLike, f_number: ArrayLike, blur_um: ArrayLike) -> tuple[FloatArray, FloatArray]:
    focal = positive(focal_mm)
    return focal, focal**2 / (positive(f_number) * positive(blur_um) / 1000.0) + focal


def hyperfocal_m(focal_mm: ArrayLike, f_number: ArrayLike, blur_um: ArrayLike) -> FloatLike:
    """
    Nearest distance to focus on with infinity still acceptably sharp.

    Parameters
    ----------
    focal_mm : float or array
        Focal length, adapter factor included. [mm]
    f_number : float or array
        F-number, adapter factor included. [-]
    blur_um : float or array
        Tolerated blur disc. [µm]

    Returns
    -------
    float or array
        f² / (N c) + f from the front principal plane, broadcast. [m]

    Notes
    -----
    Valid for a pupil magnification of 1.

    References
    ----------
    .. [1] "Depth of field", Wikipedia: H ≈ f²/(N c); the last f makes it exact.

    Examples
    --------
    >>> round(hyperfocal_m(50.0, 8.0, 29.0), 3)
    10.826
    """
    _, hyperfocal = _lengths_mm(focal_mm, f_number, blur_um)
    return plain(hyperfocal / 1000.0)


def near_limit_m(focal_mm: ArrayLike, f_number: ArrayLike, blur_um: ArrayLike, focus_m: ArrayLike) -> FloatLike:
    """
    Nearest distance that is acceptably sharp.

    Parameters
    ----------
    focal_mm : float or array
        Focal length, adapter factor included. [mm]
    f_number : float or array
        F-number, adapter factor included. [-]
    blur_um : float or array
        Tolerated blur disc. [µm]
    focus_m : float or array
        Distance focused on, from the front principal plane; infinity allowed. [m]

    Returns
    -------
    float or array
        u (H - f) / (H + u - 2 f), broadcast. [m]

    Notes
    -----
    Valid for u > f and a pupil magnification of 1.

    References
    ----------
    .. [1] "Depth of field", Wikipedia, derivation from the thin lens.

    Examples
    --------
    >>> round(near_limit_m(50.0, 8.0, 29.0, 5.0), 2)
    3.43
    """
    focal, hyperfocal = _lengths_mm(focal_mm, f_number, blur_um)
    focus = floats(focus_m) * 1000.0
    # Divided through by u, so that a lens at infinity gives H - f instead of infinity over infinity.
    near = (hyperfocal - focal) / (1.0 + (hyperfocal - 2.0 * focal) / positive(focus))
    return plain(np.where(focus > focal, near, np.nan) / 1000.0)


def far_limit_m(focal_mm: ArrayLike, f_number: ArrayLike, blur_um: ArrayLike, focus_m: ArrayLike) -> FloatLike:
    """
    Farthest distance that is acceptably sharp.

    Parameters
    ----------
    focal_mm : float or array
        Focal length, adapter factor included. [mm]
    f_number : float or array
        F-number, adapter factor included. [-]
    blur_um : float or array
        Tolerated blur disc. [µm]
    focus_m : float or array
        Distance focused on, from the front principal plane; infinity allowed. [m]

    Returns
    -------
    float or array
        u (H - f) / (H - u), broadcast; infinite from the hyperfocal distance on. [m]

    Notes
    -----
    Valid for u > f and a pupil magnification of 1.

    References
    ----------
    .. [1] "Depth of field", Wikipedia, derivation from the thin lens.

    Examples
    --------
    >>> round(far_limit_m(50.0, 8.0, 29.0, 5.0), 2)
    9.25
    >>> far_limit_m(50.0, 8.0, 29.0, 12.0)
    inf
    """
    focal, hyperfocal = _lengths_mm(focal_mm, f_number, blur_um)
    focus = floats(focus_m) * 1000.0
    with np.errstate(divide="ignore", invalid="ignore"):
        far = focus * (hyperfocal - focal) / (hyperfocal - focus)
        far = np.where(focus >= hyperfocal, np.inf, far)
    return plain(np.where(focus > focal, far, np.nan) / 1000.0)


def defocus_disc_um(focal_mm: ArrayLike, f_number: ArrayLike, focus_m: ArrayLike, point_m: ArrayLike) -> FloatLike:
    """
    Blur disc of a point that is not in the plane of focus.

    Parameters
    ----------
    focal_mm : float or array
        Focal length, adapter factor included. [mm]
    f_number : float or array
        F-number, adapter factor included. [-]
    focus_m : float or array
        Distance focused on, from the front principal plane. [m]
    point_m : float or array
        Distance of the point; infinity allowed. [m]

    Returns
    -------
    float or array
        (f/N) m |u2 - u| / u2, broadcast. [µm]

    Notes
    -----
    Valid for u > f, with m = f / (u - f), and a pupil magnification of 1.

    References
    ----------
    .. [1] "Circle of confusion", Wikipedia, from similar triangles.

    Examples
    --------
    >>> round(defocus_disc_um(50.0, 2.0, 2.0, 2.1), 2)
    30.53
    """
    focal, focus = positive(focal_mm), floats(focus_m) * 1000.0
    scale = focal / positive(focus - focal)
    share = np.abs(1.0 - focus / positive(floats(point_m) * 1000.0))
    return plain(focal / positive(f_number) * scale * share * 1000.0)


def focus_error_disc_um(error_mm: ArrayLike, working_f_number: ArrayLike) -> FloatLike:
    """
    Blur disc when the sensor is not where the image is.

    Parameters
    ----------
    error_mm : float or array
        Distance between image and sensor. [mm]
    working_f_number : float or array
        F-number at that magnification. [-]

    Returns
    -------
    float or array
        |e| / N_w, broadcast. [µm]

    Notes
    -----
    Valid where the geometric disc is larger than diffraction.

    References
    ----------
    .. [1] By similar triangles.

    Examples
    --------
    >>> focus_error_disc_um(0.05, 2.0)
    25.0
    """
    return plain(np.abs(floats(error_mm)) * 1000.0 / positive(working_f_number))
