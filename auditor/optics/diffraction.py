"""What the aperture itself blurs, and the f-number close up."""

from __future__ import annotations

import numpy as np

from auditor.constants import GREEN_UM
from auditor.optics.arrays import ArrayLike, FloatLike, floats, plain, positive

__all__ = ["airy_diameter_um", "diffraction_f_number", "light_loss_stops", "working_f_number"]

# First zero of the Airy pattern, 1.21967 λ/D on either side: D. Jacobson, Photographic Lenses Tutorial, sec. 5.
_AIRY = 2 * 1.21967


def working_f_number(f_number: ArrayLike, magnification: ArrayLike, pupil_magnification: ArrayLike = 1.0) -> FloatLike:
    """
    F-number that governs light, diffraction and depth at a magnification.

    Parameters
    ----------
    f_number : float or array
        F-number at infinity. [-]
    magnification : float or array
        Image size ÷ subject size. [-]
    pupil_magnification : float or array
        Exit pupil ÷ entrance pupil; 1 where not known. [-]

    Returns
    -------
    float or array
        N (1 + m/P), broadcast. [-]

    Notes
    -----
    Valid for any lens whose P is known. Telephoto lenses have P < 1, retrofocus ones P > 1 (from memory).

    References
    ----------
    .. [1] "F-number", Wikipedia, after J. E. Greivenkamp, Field Guide to Geometrical Optics, p. 29.

    Examples
    --------
    >>> round(working_f_number(2.8, 0.5), 6)
    4.2
    """
    return plain(positive(f_number) * (1.0 + floats(magnification) / positive(pupil_magnification)))


def light_loss_stops(magnification: ArrayLike, pupil_magnification: ArrayLike = 1.0) -> FloatLike:
    """
    Light lost by focusing close.

    Parameters
    ----------
    magnification : float or array
        Image size ÷ subject size. [-]
    pupil_magnification : float or array
        Exit pupil ÷ entrance pupil. [-]

    Returns
    -------
    float or array
        2 log2(1 + m/P), broadcast. [stop]

    Notes
    -----
    Valid as `working_f_number`.

    References
    ----------
    .. [1] "F-number", Wikipedia, after J. E. Greivenkamp, Field Guide to Geometrical Optics, p. 29.

    Examples
    --------
    >>> light_loss_stops(1.0)
    2.0
    """
    return plain(2.0 * np.log2(1.0 + floats(magnification) / positive(pupil_magnification)))


def airy_diameter_um(f_number: ArrayLike, wavelength_um: ArrayLike = GREEN_UM) -> FloatLike:
    """
    Diameter of the first dark ring of a point's image.

    Parameters
    ----------
    f_number : float or array
        Working f-number. [-]
    wavelength_um : float or array
        Wavelength. [µm]

    Returns
    -------
    float or array
        2.44 λ N, broadcast. [µm]

    Notes
    -----
    Valid for a round aperture and a lens without other faults.

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial, sec. 5: first zero at 1.21967 λ/D.

    Examples
    --------
    >>> round(airy_diameter_um(8.0), 2)
    10.73
    """
    return plain(_AIRY * positive(wavelength_um) * positive(f_number))


def diffraction_f_number(blur_um: ArrayLike, wavelength_um: ArrayLike = GREEN_UM) -> FloatLike:
    """
    F-number at which the Airy disc is as wide as the tolerated blur.

    Parameters
    ----------
    blur_um : float or array
        Tolerated blur. [µm]
    wavelength_um : float or array
        Wavelength. [µm]

    Returns
    -------
    float or array
        c / (2.44 λ), broadcast. [-]

    Notes
    -----
    Valid as a guide: stopping down further softens the plane of focus itself. Inverse of `airy_diameter_um`.

    References
    ----------
    .. [1] D. Jacobson, Photographic Lenses Tutorial, sec. 5.

    Examples
    --------
    >>> round(diffraction_f_number(28.8), 1)
    21.5
    """
    return plain(positive(blur_um) / (_AIRY * positive(wavelength_um)))
