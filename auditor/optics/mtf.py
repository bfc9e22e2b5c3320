"""Modulation transfer of each cause of blur, and of all of them together."""

from __future__ import annotations

import numpy as np
from scipy.special import j1

from auditor.constants import GREEN_UM
from auditor.optics.arrays import ArrayLike, FloatArray, FloatLike, floats, plain, positive

__all__ = [
    "combined_mtf50_lp_mm",
    "defocus_mtf",
    "diffraction_mtf",
    "gaussian_mtf",
    "motion_mtf",
    "mtf50_lp_mm",
]

# MTF50 × width of each cause: roots of sinc, exp(-2π²x²), 2J1(πx)/πx and the diffraction MTF at 1/2.
_HALF = {"motion": 0.60335456, "gaussian": 0.18739063, "defocus": 0.70508484, "diffraction": 0.40397275}
_BISECTIONS = 60


def motion_mtf(frequency_lp_mm: ArrayLike, length_um: ArrayLike) -> FloatLike:
    """
    Contrast left along a straight, even smear; also that of a square pixel.

    Parameters
    ----------
    frequency_lp_mm : float or array
        Spatial frequency along the smear. [lp/mm]
    length_um : float or array
        Length of the smear, or pixel pitch. [µm]

    Returns
    -------
    float or array
        |sinc(f L)|, broadcast, 0-1. [-]

    Notes
    -----
    Valid for even motion; first zero at f = 1/L. Across the smear nothing is lost.

    References
    ----------
    .. [1] O. Hadar, M. Fisher and N. S. Kopeika, Opt. Eng. 31(3):581 (1992), for motion in general.

    Examples
    --------
    >>> round(motion_mtf(30.17, 20.0), 2)
    0.5
    """
    return plain(np.abs(np.sinc(floats(frequency_lp_mm) * floats(length_um) / 1000.0)))


def gaussian_mtf(frequency_lp_mm: ArrayLike, sigma_um: ArrayLike) -> FloatLike:
    """
    Contrast left by a Gaussian smear.

    Parameters
    ----------
    frequency_lp_mm : float or array
        Spatial frequency. [lp/mm]
    sigma_um : float or array
        Standard deviation of the smear. [µm]

    Returns
    -------
    float or array
        exp(-2 π² f² σ²), broadcast, 0-1. [-]

    Notes
    -----
    Valid for a Gaussian spread, such as many random jerks within one exposure.

    References
    ----------
    .. [1] Fourier transform of a Gaussian.

    Examples
    --------
    >>> round(gaussian_mtf(18.739, 10.0), 3)
    0.5
    """
    return plain(np.exp(-2.0 * (np.pi * floats(frequency_lp_mm) * floats(sigma_um) / 1000.0) ** 2))


def defocus_mtf(frequency_lp_mm: ArrayLike, disc_um: ArrayLike) -> FloatLike:
    """
    Contrast left by a defocus disc.

    Parameters
    ----------
    frequency_lp_mm : float or array
        Spatial frequency. [lp/mm]
    disc_um : float or array
        Diameter of the disc. [µm]

    Returns
    -------
    float or array
        |2 J1(π f d) / (π f d)|, broadcast, 0-1. [-]

    Notes
    -----
    Valid for the geometric disc of a round aperture.

    References
    ----------
    .. [1] Fourier transform of a uniform disc.

    Examples
    --------
    >>> round(defocus_mtf(35.25, 20.0), 2)
    0.5
    """
    x = np.pi * floats(frequency_lp_mm) * floats(disc_um) / 1000.0
    with np.errstate(invalid="ignore", divide="ignore"):
        return plain(np.where(x == 0, 1.0, np.abs(2.0 * j1(x) / x)))


def diffraction_mtf(frequency_lp_mm: ArrayLike, f_number: ArrayLike, wavelength_um: ArrayLike = GREEN_UM) -> FloatLike:
    """
    Contrast left by a perfect lens.

    Parameters
    ----------
    frequency_lp_mm : float or array
        Spatial frequency. [lp/mm]
    f_number : float or array
        Working f-number. [-]
    wavelength_um : float or array
        Wavelength. [µm]

    Returns
    -------
    float or array
        (2/π)(arccos s - s √(1 - s²)) with s = f λ N, broadcast; 0 from s = 1 on. [-]

    Notes
    -----
    Valid for a round aperture and incoherent light.

    References
    ----------
    .. [1] J. W. Goodman, Introduction to Fourier Optics, sec. 6.3 (from memory).

    Examples
    --------
    >>> round(diffraction_mtf(91.8, 8.0), 2)
    0.5
    """
    share = np.clip(floats(frequency_lp_mm) * positive(wavelength_um) * positive(f_number) / 1000.0, 0.0, 1.0)
    return plain(2.0 / np.pi * (np.arccos(share) - share * np.sqrt(1.0 - share * share)))


def mtf50_lp_mm(cause: str, width_um: ArrayLike) -> FloatLike:
    """
    Frequency at which one cause alone halves the contrast.

    Parameters
    ----------
    cause : str
        "motion" (also a pixel), "gaussian", "defocus" or "diffraction".
    width_um : float or array
        Length, sigma, disc diameter, or wavelength × working f-number. [µm]

    Returns
    -------
    float or array
        Constant of the cause ÷ width, broadcast; infinite for no width. [lp/mm]

    Raises
    ------
    KeyError
        For another cause.

    Notes
    -----
    Valid for that cause alone.

    References
    ----------
    .. [1] Roots of the four transfer functions at one half, checked against them in the tests.

    Examples
    --------
    >>> round(mtf50_lp_mm("diffraction", 0.55 * 8), 1)
    91.8
    """
    with np.errstate(divide="ignore", over="ignore"):
        return plain(1000.0 * _HALF[cause] / floats(width_um))


def _contrast(
    frequency: FloatArray, motions_um: list[FloatArray], disc_um: FloatArray, f_number: FloatArray
) -> FloatArray:
    contrast = floats(defocus_mtf(frequency, disc_um)) * floats(diffraction_mtf(frequency, f_number))
    for length in motions_um:
        contrast = contrast * floats(motion_mtf(frequency, length))
    return contrast


def combined_mtf50_lp_mm(
    *,
    shake_um: ArrayLike = 0.0,
    subject_um: ArrayLike = 0.0,
    disc_um: ArrayLike = 0.0,
    f_number: ArrayLike = 1e-6,
    pixel_um: ArrayLike = 0.0,
) -> FloatLike:
    """
    Frequency at which all causes together halve the contrast.

    Parameters
    ----------
    shake_um, subject_um : float or array
        Smear by hand shake and by the subject, in one direction: the worst case. [µm]
    disc_um : float or array
        Defocus disc. [µm]
    f_number : float or array
        Working f-number. [-]
    pixel_um : float or array
        Pixel pitch. [µm]

    Returns
    -------
    float or array
        First frequency where the product of the transfer functions is 1/2, broadcast; NaN where one is not known,
        infinite where nothing blurs. [lp/mm]

    Notes
    -----
    The product of MTFs is exact for independent causes; adding variances is 10-12 % too optimistic for smears and
    discs. Valid in the direction of the smear, for causes that do not go together (panning does).

    References
    ----------
    .. [1] Convolution theorem; the errors of the shortcuts are those of the tests.

    Examples
    --------
    >>> round(combined_mtf50_lp_mm(shake_um=20.0, disc_um=20.0, f_number=8.0, pixel_um=6.0), 1)
    21.1
    """
    shake, subject, disc, aperture, pixel = np.broadcast_arrays(
        floats(shake_um), floats(subject_um), floats(disc_um), positive(f_number), floats(pixel_um)
    )
    motions = [shake, subject, pixel]
    # Every cause alone halves the contrast at a known frequency and they only get worse together, so the answer lies
    # below the lowest of them; up to there each transfer function falls, so bisection finds the one crossing.
    alone = [mtf50_lp_mm("motion", length) for length in motions]
    alone += [mtf50_lp_mm("defocus", disc), mtf50_lp_mm("diffraction", GREEN_UM * aperture)]
    high = np.min(np.broadcast_arrays(*[floats(value) for value in alone]), axis=0) + 0.0 * disc
    low = np.zeros_like(high)
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        above = _contrast(middle, motions, disc, aperture) > 0.5
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return plain(np.where(np.isnan(sum(motions) + disc + aperture), np.nan, high))
